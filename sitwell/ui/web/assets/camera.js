// The browser's own camera, for practising: small pictures are sent one after another, each is looked
// at once and forgotten. It stops when the page is hidden and starts again only when asked to.
const EVERY_MS = 300, SIDE_PX = 720;
export default {
  props: { to: String, words: Object },
  template: `
    <div class="practice">
      <div class="practice-view">
        <video ref="video" autoplay muted playsinline :aria-label="words.view" :class="{ on }"></video>
        <p v-if="!on" class="hint">{{ words.off }}</p>
      </div>
      <div class="practice-say">
        <p class="part">{{ on ? words.on : words.stopped }}</p>
        <div aria-live="polite"><p class="spoken">{{ say }}</p></div>
        <dl v-if="moves.length" class="drift"><div v-for="m in moves" :key="m.name">
          <dt>{{ m.name }}</dt><dd>{{ m.value }}</dd></div></dl>
        <p v-if="trouble" class="notice trouble" role="alert">{{ trouble }}</p>
        <button type="button" :class="['btn', on ? '' : 'main']" @click="on ? stop() : start()">
          {{ on ? words.stop : words.start }}</button>
      </div>
    </div>`,
  data: () => ({ on: false, say: "", moves: [], trouble: "" }),
  mounted() {
    this.hidden = () => { if (document.hidden) this.stop(); };
    document.addEventListener("visibilitychange", this.hidden);
    window.addEventListener("pagehide", this.stop);
  },
  beforeUnmount() {
    document.removeEventListener("visibilitychange", this.hidden);
    window.removeEventListener("pagehide", this.stop);
    this.stop();
  },
  methods: {
    async start() {
      this.trouble = "";
      if (!navigator.mediaDevices) { this.trouble = this.words.insecure; return; }
      try {
        this.stream = await navigator.mediaDevices.getUserMedia(
          { video: { width: { ideal: 1280 }, height: { ideal: 720 } }, audio: false });
      } catch { this.trouble = this.words.refused; return; }
      this.on = true;
      this.say = this.words.looking;
      this.$refs.video.srcObject = this.stream;
      this.run(this.stream);
    },
    stop() {
      if (this.stream) this.stream.getTracks().forEach((track) => track.stop());
      this.stream = null;
      if (this.$refs.video) this.$refs.video.srcObject = null;
      this.on = false;
      this.say = "";
      this.moves = [];
    },
    async run(stream) {
      while (this.stream === stream) {
        const began = performance.now();
        await this.look(stream);
        await new Promise((go) => setTimeout(go, Math.max(EVERY_MS - (performance.now() - began), 60)));
      }
    },
    async look(stream) {
      const video = this.$refs.video;
      if (!video || !video.videoWidth) return;
      const scale = Math.min(1, SIDE_PX / Math.max(video.videoWidth, video.videoHeight));
      const canvas = this.canvas || (this.canvas = document.createElement("canvas"));
      canvas.width = Math.round(video.videoWidth * scale);
      canvas.height = Math.round(video.videoHeight * scale);
      canvas.getContext("2d").drawImage(video, 0, 0, canvas.width, canvas.height);
      const picture = await new Promise((done) => canvas.toBlob(done, "image/jpeg", 0.85));
      try {
        const answer = await fetch(this.to, { method: "POST", body: picture });
        const told = await answer.json();
        if (this.stream !== stream) return;
        this.trouble = told.trouble || "";
        if (told.say) this.say = told.say;
        this.moves = told.moves || [];
      } catch {
        if (this.stream === stream) { this.stop(); this.trouble = this.words.lost; }
      }
    },
  },
};
