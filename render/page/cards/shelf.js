// The shelf: the builder's own threads, and the form of one, which stands in the list of threads too.
(() => {
  const EMPTY = { name: "", kind: "metallic", size: "A", colour: "#1f7fe8", diameter: "0.17", tex: "28", spool: "90", price: "0" };
  const THREAD_FIELDS = {
    name: ["Name", "What you call it; a design names it so."],
    size: ["Size", "The letter on the spool. It fixes neither diameter nor weight."],
    diameter: ["Diameter, mm", "As laid: wind 20 turns tight, measure, and divide by 20."],
    tex: ["Tex", "Grams per kilometre, from the spool's own sheet."],
    spool: ["Spool, m", "How much is on a new spool."],
    price: ["Price", "Of one spool, in your own money."],
  };

  /** A thread of the builder's own: typed, its colour picked, typed or read from a photograph. */
  const ThreadForm = {
    inject: ["trame", "bench"],
    props: {
      /** Values that it begins with; what they leave out has its usual value. */
      from: Object,
      /** Words of the button that keeps it. */
      keep: { type: String, default: "Put on the shelf" },
    },
    emits: ["kept", "leave"],
    data() {
      const given = { ...EMPTY, ...this.from };
      const editing = Object.fromEntries(Object.keys(EMPTY).map((key) => [key, String(given[key])]));
      return { editing, problem: "", field: "" };
    },
    computed: {
      threadFields: () => THREAD_FIELDS,
    },
    mounted() {
      this.$el.scrollIntoView({ block: "nearest" });
      this.$el.querySelector("input").focus();
    },
    methods: {
      async put() {
        const answer = await window.turnlight_fields.request(this.trame, "shelf_put", [{ ...this.editing }]);
        this.problem = answer.problem;
        this.field = answer.field;
        if (!answer.problem) this.$emit("kept", this.editing.name.trim());
      },
      explain(key) {
        this.bench.help = THREAD_FIELDS[key] ? THREAD_FIELDS[key][1] : "";
      },
    },
    template: `
      <form class="thread-form" @submit.prevent="put" @keydown.esc.stop="$emit('leave')" novalidate>
        <label v-for="(words, key) in threadFields" :key="key" :class="{ wrong: field === key && problem }" @mouseenter="explain(key)" @focusin="explain(key)">
          <span>{{ words[0] }}</span>
          <input class="text" type="text" autocomplete="off" v-model="editing[key]" data-typed="yes" :name="key" :aria-invalid="field === key && problem ? 'true' : null">
        </label>
        <label><span>Kind</span><select class="select" v-model="editing.kind"><option v-for="kind in bench.shelfKinds" :key="kind">{{ kind }}</option></select></label>
        <label><span>Colour</span><span class="entry"><input type="color" class="well" v-model="editing.colour" aria-label="Colour, picked"><input class="text hex" type="text" v-model="editing.colour" name="colour" data-typed="yes" aria-label="Colour"></span></label>
        <tl-photograph :name="editing.name" :kind="editing.kind" :kinds="bench.shelfKinds" :threads="bench.threads" @kind="editing.kind = $event" @use="editing.colour = $event" />
        <p class="problem" role="alert" v-if="problem">{{ problem }}</p>
        <div class="row-buttons">
          <button type="submit" class="btn main">{{ keep }}</button>
          <button type="button" class="btn quiet" @click="$emit('leave')">Leave it</button>
        </div>
      </form>`,
  };

  const Shelf = {
    inject: ["trame", "bench"],
    props: { threads: Array, file: String },
    data: () => ({ open: false, editing: null, begun: 0, problem: "", words: "" }),
    computed: {
      own() {
        return this.threads.filter((thread) => thread.own);
      },
      others() {
        const words = this.words.toLocaleLowerCase().split(/\s+/).filter(Boolean);
        return this.threads.filter(
          (thread) => !thread.own && words.every((word) => `${thread.name} ${thread.kind}`.toLocaleLowerCase().includes(word)),
        );
      },
    },
    methods: {
      begin(thread) {
        this.problem = "";
        this.editing = { ...thread };
        this.begun += 1;
      },
      kept() {
        this.editing = null;
        this.$nextTick(() => this.$refs.add.focus());
      },
      async drop(thread) {
        const answer = await this.trame.trigger("shelf_drop", [thread.name]);
        this.problem = answer.problem;
      },
    },
    template: `
      <details class="card" data-card="shelf" :open="open" @toggle="open = $event.target.open">
        <summary><span class="card-title">Shelf</span><span class="soft">{{ threads.length }} threads, {{ own.length }} of your own</span></summary>
        <div class="card-body" v-if="open">
          <p class="soft">{{ file ? 'Your own threads are kept in ' + file + ', beside the design.' : 'Save the design first: your own shelf is a file beside it.' }}
            <tl-save-first v-if="!file && bench.own" /></p>
          <ul class="shelf" aria-label="Your own threads">
            <li v-for="thread in own" :key="thread.name">
              <span class="swatch" :class="thread.kind.replace(' ', '-')" :style="{ '--colour': thread.colour }"></span>
              <span class="name">{{ thread.name }}</span>
              <button type="button" class="btn quiet" @click="begin(thread)">Change</button>
              <button type="button" class="btn icon" :aria-label="'Take ' + thread.name + ' off the shelf'" @click="drop(thread)">×</button>
            </li>
          </ul>
          <p class="problem" role="alert" v-if="problem">{{ problem }}</p>
          <tl-thread-form v-if="editing" :key="begun" :from="editing" @kept="kept" @leave="editing = null" />
          <div class="row-buttons" v-else>
            <button type="button" ref="add" class="btn" :disabled="!file" @click="begin(null)">Put a thread of your own on the shelf…</button>
          </div>
          <details class="more">
            <summary>Threads that came with Turnlight</summary>
            <input type="search" class="text" v-model="words" aria-label="Search the shelf" placeholder="name or kind">
            <ul class="shelf tall" aria-label="Threads that came with Turnlight" tabindex="0">
              <li v-for="thread in others" :key="thread.name">
                <span class="swatch" :class="thread.kind.replace(' ', '-')" :style="{ '--colour': thread.colour }"></span>
                <span class="name">{{ thread.name }}</span>
                <button type="button" class="btn quiet" :disabled="!file" @click="begin(thread)" :aria-label="'Put your own ' + thread.name + ' in its place'">Make mine</button>
              </li>
            </ul>
          </details>
        </div>
      </details>`,
  };

  window.turnlight_shelf = {
    install(app) {
      app.component("tl-thread-form", ThreadForm);
      app.component("tl-shelf", Shelf);
    },
  };
})();
