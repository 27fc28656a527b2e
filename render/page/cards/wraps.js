// The wraps of the rod: which one the cards, the picture and the figures are of.
(() => {
  const Wraps = {
    inject: ["trame", "bench"],
    props: { wraps: Object },
    data: () => ({ problem: "", renaming: false, name: "", busy: false }),
    computed: {
      several() {
        return this.wraps.names.length > 1;
      },
      /** What is to look at in the wraps that are not worked at. */
      elsewhere() {
        return this.wraps.names.flatMap((name) => this.toldOf(name).map((text) => ({ name, text })));
      },
    },
    watch: {
      wraps() {
        this.problem = "";
      },
    },
    methods: {
      toldOf(name) {
        return (name !== this.wraps.at && this.bench.warnings[`wraps.${name}`]) || [];
      },
      entryOf(name) {
        const count = this.toldOf(name).length;
        return count ? `${name} – ${count} to look at` : name;
      },
      /** Make an edit of the wraps; presses meanwhile are ignored. */
      async ask(method, ...args) {
        if (this.busy) return null;
        this.busy = true;
        await window.turnlight_fields.idle();
        const answer = await window.turnlight_fields.request(this.trame, method, args);
        await this.bench.shown(answer.revision);
        this.busy = false;
        this.problem = answer.problem;
        return answer;
      },
      async choose(event) {
        await this.ask("wrap_work_at", event.target.value);
        event.target.value = this.wraps.at;
      },
      async add(event) {
        const kind = event.target.value;
        event.target.value = "";
        if (kind) await this.ask("wrap_add", kind === "copy" ? "" : kind);
      },
      rename() {
        this.renaming = true;
        this.name = this.wraps.at;
        this.problem = "";
        this.$nextTick(() => this.$refs.name.select());
      },
      async keepName() {
        const same = this.name.trim() === this.wraps.at;
        const answer = same ? { problem: "" } : await this.ask("wrap_rename", this.name);
        if (answer && !answer.problem) this.renaming = false;
      },
    },
    template: `
      <section class="wraps" v-if="several || bench.edit" aria-label="Wraps of the rod">
        <form v-if="renaming" class="field-head" @submit.prevent="keepName">
          <label for="wrap-name">Name</label>
          <input class="text" id="wrap-name" ref="name" v-model="name" maxlength="60" @keydown.esc="renaming = false">
          <button type="submit" class="btn">Rename</button>
        </form>
        <div class="field-head" v-else-if="several">
          <label for="wrap-at">Wrap</label>
          <select class="select" id="wrap-at" :value="wraps.at" :disabled="!bench.edit" @change="choose">
            <option v-for="name in wraps.names" :key="name" :value="name">{{ entryOf(name) }}</option>
          </select>
        </div>
        <div class="row-buttons" v-if="bench.edit">
          <label class="sr" for="wrap-add">Add a wrap</label>
          <select id="wrap-add" class="select" :disabled="busy" title="It is laid where the blank is free" @change="add">
            <option value="">Add a wrap…</option>
            <option value="copy">a copy of this one</option>
            <option v-for="kind in wraps.kinds" :key="kind.name" :value="kind.name" :title="kind.words">{{ kind.name }}</option>
          </select>
          <template v-if="several && !renaming">
            <button type="button" class="btn quiet" @click="rename">Rename</button>
            <button type="button" class="btn quiet" @click="ask('wrap_remove')">Remove this wrap</button>
          </template>
        </div>
        <p class="warning" v-for="told in elsewhere" :key="told.name + told.text">{{ told.name }}: {{ told.text }}</p>
        <p class="problem" role="alert" v-if="problem">{{ problem }}</p>
      </section>`,
  };

  window.turnlight_wraps = {
    install(app) {
      app.component("tl-wraps", Wraps);
    },
  };
})();
