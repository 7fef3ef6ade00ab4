// A test frame with what was read laid over it, and marks to place and drag. Positions are pixels of
// the full-size upright photograph; the server decides what they mean.
export default {
  props: { src: String, alt: String, width: Number, height: Number, dots: Array, wire: String,
           marks: Array, armed: String, show: Object, faces: Array },
  emits: ["put", "face"],
  template: `
    <div class="plate" :class="{ armed: armed }" :style="{ aspectRatio: width + ' / ' + height, maxWidth: 'calc(80vh * ' + width / height + ')', '--shape': width / height }">
      <img :src="src" :alt="alt" draggable="false" @pointerdown="begin" @pointermove="follow"
           @pointerup="place" @pointercancel="held = here = null" @load="$el.classList.add('ready')">
      <svg :viewBox="'0 0 ' + width + ' ' + height" aria-hidden="true">
        <path v-if="show.head" class="wire" :d="wire"></path>
        <path v-if="show.dots" class="dots" :d="dotted"></path>
      </svg>
      <button v-for="f in (armed ? [] : faces)" :key="'face' + f.number" type="button" class="face"
              :aria-pressed="f.chosen ? 'true' : 'false'" :aria-label="f.name" :style="around(f.box)"
              @click="$emit('face', { number: f.number })"><span aria-hidden="true">{{ f.number }}</span></button>
      <button v-for="m in marks" :key="m.id" type="button" :class="['mark', { held: held === m.id, guess: m.guess }]"
              :style="at(held === m.id && here ? here : m)" :aria-label="m.name + ', ' + m.value" aria-roledescription="mark"
              :data-name="m.name" @pointerdown="take($event, m)" @pointermove="drag($event, m)"
              @pointerup="drop($event, m)" @pointercancel="drop($event, m)" @keydown="key($event, m)">
        <span aria-hidden="true">{{ m.name }}</span></button>
      <div v-if="held && here" class="loupe" :style="loupe" aria-hidden="true"></div>
    </div>`,
  data: () => ({ held: null, here: null }),
  computed: {
    dotted() {
      // a line of no length with round ends draws a dot
      return this.dots.map(([x, y]) => "M" + x + " " + y + "h0").join("");
    },
    loupe() {
      const r = this.$el.getBoundingClientRect(), zoom = 3, size = 150;
      const x = (this.here.x / this.width) * r.width, y = (this.here.y / this.height) * r.height;
      const above = y > size + 60;
      return {
        left: Math.min(Math.max(x - size / 2, 0), r.width - size) + "px",
        top: (above ? y - size - 45 : y + 45) + "px",
        backgroundImage: "url(" + this.src + ")",
        backgroundSize: r.width * zoom + "px " + r.height * zoom + "px",
        backgroundPosition: size / 2 - x * zoom + "px " + (size / 2 - y * zoom) + "px",
      };
    },
  },
  methods: {
    at(m) { return { left: (100 * m.x) / this.width + "%", top: (100 * m.y) / this.height + "%" }; },
    around([left, top, right, bottom]) {
      return { left: (100 * left) / this.width + "%", top: (100 * top) / this.height + "%",
               width: (100 * (right - left)) / this.width + "%", height: (100 * (bottom - top)) / this.height + "%" };
    },
    point(e) {
      const r = this.$el.getBoundingClientRect();
      const clamp = (v, most) => Math.min(Math.max(v, 0), most - 1);
      return { x: clamp(((e.clientX - r.left) / r.width) * this.width, this.width),
               y: clamp(((e.clientY - r.top) / r.height) * this.height, this.height) };
    },
    begin(e) {
      // an armed mark is placed where the finger leaves the picture, seen through the loupe
      if (!this.armed) return;
      e.preventDefault();
      e.target.setPointerCapture(e.pointerId);
      this.held = "new";
      this.here = this.point(e);
    },
    follow(e) {
      if (this.held === "new") this.here = this.point(e);
    },
    place(e) {
      if (this.held !== "new") return;
      this.$emit("put", { id: this.armed, ...this.point(e) });
      this.held = this.here = null;
    },
    take(e, m) {
      e.preventDefault();
      e.target.focus({ preventScroll: true });
      e.currentTarget.setPointerCapture(e.pointerId);
      const p = this.point(e);
      this.off = { x: m.x - p.x, y: m.y - p.y };
      this.held = m.id;
      this.here = { x: m.x, y: m.y };
    },
    drag(e, m) {
      if (this.held !== m.id) return;
      const p = this.point(e);
      this.here = { x: p.x + this.off.x, y: p.y + this.off.y };
    },
    drop(e, m) {
      if (this.held !== m.id) return;
      this.$emit("put", { id: m.id, ...this.here });
      this.held = null;
      this.here = null;
    },
    key(e, m) {
      const step = (e.shiftKey ? 10 : 1) * Math.max(1, this.width / 1000);
      const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[e.key];
      if (e.key === "Delete" || e.key === "Backspace") this.$emit("put", { id: m.id, away: true });
      else if (way) this.$emit("put", { id: m.id, x: m.x + way[0] * step, y: m.y + way[1] * step });
      else return;
      e.preventDefault();
    },
  },
};
