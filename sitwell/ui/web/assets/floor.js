// A plan drawing with things to drag: pointer, touch or arrow keys. All meaning stays on the server;
// this draws what it is given and tells where a thing was put, in the drawing's millimetres.
export default {
  props: { box: Array, ink: String, lettering: Array, handles: Array, words: String, still: Boolean },
  emits: ["put", "nudge"],
  template: `
    <div class="floor" :style="{ aspectRatio: box[2] + ' / ' + box[3] }">
      <svg :viewBox="box.join(' ')" role="img" :aria-label="words" class="floor-ink"
           preserveAspectRatio="xMidYMid meet"><g v-html="ink"></g></svg>
      <span v-for="(l, i) in lettering" :key="i" :class="['lettering', l.side, l.kind]"
            :style="at(l)" aria-hidden="true">{{ l.text }}</span>
      <button v-for="h in (still ? [] : handles)" :key="h.id" type="button"
           :class="['handle', h.id, { held: held === h.id }]" :style="at(held === h.id && here ? here : spot(h))"
           :aria-label="h.name + ': ' + h.value" aria-roledescription="movable"
           @pointerdown="take($event)" @pointermove="drag($event, h)"
           @pointerup="drop($event, h)" @pointercancel="drop($event, h)"
           @keydown="key($event, h)"></button>
    </div>`,
  data: () => ({ held: null, here: null, waiting: null, last: 0 }),
  mounted() {
    this.watch = new ResizeObserver(() => this.settle());
    this.watch.observe(this.$el);
    document.fonts.ready.then(() => this.settle());
  },
  updated() { this.settle(); },
  unmounted() { this.watch.disconnect(); },
  methods: {
    // Lettering keeps its size while the drawing shrinks: what would lie on another word is moved by
    // lines, soft words last, and left out where there is no room; the drawing's own words say it.
    settle() {
      if (!this.$el.offsetParent) return;
      const paper = this.$el.getBoundingClientRect(), laid = [];
      const all = [...this.$el.querySelectorAll(".lettering")];
      all.sort((a, b) => a.classList.contains("soft") - b.classList.contains("soft"));
      const fits = (r) => r.left >= paper.left - 1 && r.right <= paper.right + 1
        && r.top >= paper.top - 1 && r.bottom <= paper.bottom + 1
        && laid.every((o) => r.right <= o.left || r.left >= o.right || r.bottom <= o.top || r.top >= o.bottom);
      const moved = (r, x, y) => ({ left: r.left + x, right: r.right + x, top: r.top + y, bottom: r.bottom + y });
      for (const word of all) {
        word.style.margin = "";
        word.style.visibility = "";
        const r = word.getBoundingClientRect(), line = r.height + 1;
        const inward = Math.max(paper.left - r.left, 0) + Math.min(paper.right - r.right, 0);
        const ways = [0, 1, -1, 2, -2, 3, -3].flatMap((n) => [[inward, n * line], [inward - r.width, n * line],
          [inward + r.width, n * line]]);
        ways.sort((a, b) => Math.hypot(a[0] - inward, a[1]) - Math.hypot(b[0] - inward, b[1]));
        const way = ways.find(([x, y]) => fits(moved(r, x, y)));
        if (way) {
          word.style.margin = way[1] + "px 0 0 " + way[0] + "px";
          laid.push(moved(r, ...way));
        } else word.style.visibility = "hidden";
      }
    },
    at(p) {
      const [x, y, w, h] = this.box;
      return { left: (100 * (p.x - x)) / w + "%", top: (100 * (p.y - y)) / h + "%" };
    },
    spot(h) { return { x: h.x, y: h.y + (h.off || 0) }; },
    place(e) {
      const r = this.$el.getBoundingClientRect();
      const [x, y, w, h] = this.box;
      return { x: x + (w * (e.clientX - r.left)) / r.width, y: y + (h * (e.clientY - r.top)) / r.height };
    },
    take(e) {
      // a key near the lens axis lies under the camera: what is nearest to the finger is meant
      const p = this.place(e);
      const far = (t) => Math.hypot(t.x - p.x, t.y + (t.off || 0) - p.y);
      const h = this.handles.reduce((a, b) => (far(b) < far(a) ? b : a));
      const meant = this.$el.querySelector(".handle." + h.id);
      e.preventDefault();
      meant.focus({ preventScroll: true });
      meant.setPointerCapture(e.pointerId);
      this.held = h.id;
      this.aside = h.off || 0;
      this.off = { x: h.x - p.x, y: h.y + this.aside - p.y };
    },
    drag(e, h) {
      if (this.held !== h.id) return;
      const p = this.place(e);
      this.here = { x: p.x + this.off.x, y: p.y + this.off.y };
      const now = performance.now();
      clearTimeout(this.waiting);
      if (now - this.last > 40) this.tell(h);
      else this.waiting = setTimeout(() => this.tell(h), 40);
    },
    tell(h) {
      this.last = performance.now();
      if (this.here) this.$emit("put", { id: h.id, x: this.here.x, y: this.here.y - this.aside });
    },
    drop(e, h) {
      if (this.held !== h.id) return;
      clearTimeout(this.waiting);
      this.tell(h);
      this.held = null;
      this.here = null;
    },
    key(e, h) {
      const step = e.shiftKey ? 5 : 1;
      const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[e.key];
      if (!way) return;
      e.preventDefault();
      this.$emit("nudge", { id: h.id, x: way[0] * step, y: way[1] * step });
    },
  },
};
