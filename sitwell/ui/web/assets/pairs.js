// Frames of one burst beside one another, at the eyes. They move together: a place and a size are
// counted from each frame's own eyes, in widths between the two pupils, so that the same spot of the
// face stands in both, also where the head has moved.
const NEAREST = 0.35, FARTHEST = 14;
export default {
  props: { panes: Array, words: Object },
  template: `
    <div class="pairs">
      <div class="pair-panes" tabindex="0" role="group" :aria-label="words.group" :class="{ held: from }"
           @pointerdown="take" @pointermove="drag" @pointerup="drop" @pointercancel="drop"
           @wheel.prevent="wheel" @keydown="key">
        <figure v-for="p in panes" :key="p.file" class="pair-pane" ref="pane">
          <img :src="p.src" :alt="p.alt" draggable="false" :style="place(p)">
        </figure>
      </div>
      <div class="pair-size"><label><span>{{ words.size }}</span>
        <input type="range" min="0" max="100" step="1" :value="slide" :aria-valuetext="said"
               @input="span = toSpan(Number($event.target.value))"></label>
        <button type="button" class="small" @click="look(2.1)">{{ words.eyes }}</button>
        <button type="button" class="small" @click="look(4.6, 0, 0.35)">{{ words.face }}</button>
      </div>
    </div>`,
  data: () => ({ x: 0, y: 0, span: 2.1, wide: 1, high: 1, from: null }),
  computed: {
    slide() { return Math.round((100 * Math.log(FARTHEST / this.span)) / Math.log(FARTHEST / NEAREST)); },
    said() { return this.words.across.replace("{n}", this.span.toFixed(1)); },
  },
  mounted() {
    this.watcher = new ResizeObserver(() => {
      const pane = this.$refs.pane && this.$refs.pane[0];
      if (pane) { this.wide = pane.clientWidth; this.high = pane.clientHeight; }
    });
    this.watcher.observe(this.$el);
  },
  beforeUnmount() { this.watcher.disconnect(); },
  methods: {
    toSpan(slide) { return FARTHEST * Math.pow(NEAREST / FARTHEST, slide / 100); },
    look(span, x = 0, y = 0) { this.span = span; this.x = x; this.y = y; },
    place(p) {
      const scale = this.wide / (this.span * p.between);
      return {
        width: p.width * scale + "px",
        left: this.wide / 2 - (p.eyes[0] + this.x * p.between) * scale + "px",
        top: this.high / 2 - (p.eyes[1] + this.y * p.between) * scale + "px",
      };
    },
    move(right, down) {
      const limit = (v) => Math.min(Math.max(v, -9), 9);
      this.x = limit(this.x + right);
      this.y = limit(this.y + down);
    },
    take(e) {
      if (e.button) return;
      e.currentTarget.setPointerCapture(e.pointerId);
      this.from = { id: e.pointerId, x: e.clientX, y: e.clientY };
    },
    drag(e) {
      if (!this.from || this.from.id !== e.pointerId) return;
      const unit = this.span / this.wide;
      this.move((this.from.x - e.clientX) * unit, (this.from.y - e.clientY) * unit);
      this.from = { id: e.pointerId, x: e.clientX, y: e.clientY };
    },
    drop() { this.from = null; },
    wheel(e) { this.zoom(Math.exp(e.deltaY * 0.0015)); },
    zoom(by) { this.span = Math.min(Math.max(this.span * by, NEAREST), FARTHEST); },
    key(e) {
      const step = 0.1 * this.span;
      const way = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step] }[e.key];
      if (way) this.move(...way);
      else if (e.key === "+" || e.key === "=") this.zoom(0.8);
      else if (e.key === "-") this.zoom(1.25);
      else if (e.key === "0" || e.key === "Home") this.look(2.1);
      else return;
      e.preventDefault();
    },
  },
};
