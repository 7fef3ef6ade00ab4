// Frames dropped or chosen are sent one after another; the server says what it thinks of each.
export default {
  props: { to: String, words: Object, accept: String },
  emits: ["landed"],
  template: `
    <div class="drop" :class="{ over }" @dragover.prevent="over = true" @dragleave="over = false"
         @drop.prevent="over = false; send($event.dataTransfer.files)">
      <label><span>{{ words.ask }}</span><span class="hint">{{ words.hint }}</span>
        <input type="file" multiple :accept="accept"
               @change="send($event.target.files); $event.target.value = ''"></label>
      <div class="drop-state" role="status">
        <progress v-if="sending" max="1" :value="share" :aria-label="sending"></progress>
        <span v-if="sending">{{ sending }}</span>
      </div>
      <p v-for="(t, i) in troubles" :key="i" class="notice trouble" role="alert">{{ t }}</p>
    </div>`,
  data: () => ({ over: false, sending: "", share: 0, troubles: [] }),
  methods: {
    async send(files) {
      this.troubles = [];
      for (const file of [...files]) {
        this.sending = file.name;
        this.share = 0;
        const answer = await this.one(file);
        if (answer.id) this.$emit("landed", { id: answer.id });
        else this.troubles.push(answer.trouble || this.words.lost);
      }
      this.sending = "";
    },
    one(file) {
      return new Promise((resolve) => {
        const call = new XMLHttpRequest();
        call.open("POST", this.to + "&name=" + encodeURIComponent(file.name));
        call.upload.onprogress = (e) => { this.share = e.loaded / (e.total || 1); };
        call.onload = () => {
          try { resolve(JSON.parse(call.responseText)); }
          catch { resolve({ trouble: call.responseText.slice(0, 200) }); }
        };
        call.onerror = () => resolve({});
        call.send(file);
      });
    },
  },
};
