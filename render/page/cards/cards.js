// The side of the page: the drawing of the blank, a card for each part, the bench figures.
(() => {
  const COMPONENTS = {
    number: "tl-number",
    whole: "tl-number",
    choice: "tl-choice",
    flag: "tl-flag",
    text: "tl-text",
    lines: "tl-text",
    toml: "tl-text",
    file: "tl-file",
    colour: "tl-colour",
    thread: "tl-thread",
    rows: "tl-rows",
    group: "tl-group",
    draft: "tl-draft",
  };

  const remembered = (key, fallback) => {
    try {
      return JSON.parse(sessionStorage.getItem(key)) ?? fallback;
    } catch {
      return fallback;
    }
  };

  /** How many fields of the cards name each thread. */
  const usesOf = (cards) => {
    const uses = {};
    const count = (field) => {
      if (field.type === "thread") uses[field.value] = (uses[field.value] || 0) + 1;
      (field.fields || []).forEach(count);
      (field.rows || []).forEach((row) => row.fields.forEach(count));
    };
    cards.forEach((card) => card.fields.forEach(count));
    return uses;
  };

  const Bench = {
    inject: ["trame"],
    props: {
      cards: Array,
      figures: Object,
      warnings: Object,
      bounds: Object,
      threads: Array,
      kinds: Array,
      profile: Object,
      variants: Array,
      wraps: Object,
      pending: Array,
      wish: Object,
      palettes: Object,
      shelf: String,
      shelfKinds: Array,
      units: String,
      numbers: Object,
      revision: Number,
      path: String,
      edit: Boolean,
      own: Boolean,
    },
    provide() {
      return { bench: this.shared };
    },
    data() {
      return {
        open: remembered("turnlight-open", ["relief", "cover", "trim", "crossed"]),
        adding: "",
        problem: "",
        shared: {
          help: "",
          problem: "",
          figures: {},
          warnings: {},
          bounds: {},
          threads: [],
          pending: {},
          uses: {},
          revision: 0,
          saved: false,
          edit: false,
          own: false,
          shelf: "",
          shelfKinds: [],
          component: (field) => (field.alternatives ? "tl-one-of" : COMPONENTS[field.type]),
          shown: this.whenShown,
        },
      };
    },
    created() {
      for (const name of ["figures", "warnings", "bounds", "threads"])
        this.$watch(name, (value) => (this.shared[name] = value || {}), { immediate: true });
      const byPath = (list) => Object.fromEntries((list || []).map((one) => [one.path, one]));
      this.$watch("pending", (list) => (this.shared.pending = byPath(list)), { immediate: true });
      this.$watch("cards", (cards) => (this.shared.uses = usesOf(cards)), { immediate: true });
      for (const name of ["edit", "own", "revision", "shelf", "shelfKinds"])
        this.$watch(name, (value) => (this.shared[name] = value), { immediate: true });
      this.$watch("path", (path) => (this.shared.saved = Boolean(path)), { immediate: true });
      this.reportOpenCards();
    },
    computed: {
      parts() {
        return this.cards.map((card) => ({ ...card, slot: card.layer ? card.path : card.id }));
      },
      notNow: () => window.turnlight_fields.NOT_NOW,
      firstLayer() {
        return this.cards.findIndex((card) => card.layer);
      },
      lastLayer() {
        return this.cards.map((card) => card.layer).lastIndexOf(true);
      },
    },
    watch: {
      cards(now, before) {
        this.shared.problem = "";
        // A layer whose name has changed stays open.
        this.open = this.open.map((slot) => {
          if (now.some((card) => slot === card.path || slot === card.id)) return slot;
          const place = before.findIndex((card) => card.layer && card.path === slot);
          const same = now[place];
          return same && same.layer && same.kind === before[place].kind ? same.path : slot;
        });
        this.reportOpenCards();
      },
    },
    methods: {
      isOpen(card) {
        return this.open.includes(card.slot);
      },
      toggled(card, event) {
        const open = event.target.open;
        if (open === this.isOpen(card)) return;
        this.open = open ? [...this.open, card.slot] : this.open.filter((slot) => slot !== card.slot);
        sessionStorage.setItem("turnlight-open", JSON.stringify(this.open));
        this.reportOpenCards();
      },
      reportOpenCards() {
        const ids = this.parts.filter((card) => this.isOpen(card)).map((card) => card.id);
        this.trame.trigger("form_opened", [ids]);
      },
      show(path) {
        const card = this.parts.find((part) => path === part.path || path.startsWith(part.path + "."));
        if (card && !this.isOpen(card)) this.open = [...this.open, card.slot];
        this.reportOpenCards();
        this.$nextTick(() => {
          const field = this.$el.querySelector(`[data-path="${path}"]`);
          if (field) field.scrollIntoView({ block: "center" });
        });
      },
      /** Wait until the cards show a revision of the document, or a later one. */
      whenShown(revision) {
        return new Promise((done) => {
          // A refused edit has no revision.
          if (revision === undefined || this.revision >= revision) return done();
          const look = (now) => {
            if (now < revision) return;
            stop();
            done();
          };
          const stop = this.$watch("revision", look, { flush: "post" });
        });
      },
      async addLayer(kind) {
        if (!kind) return;
        const before = new Set(this.cards.map((card) => card.path));
        const answer = await window.turnlight_fields.request(this.trame, "desk_add_layer", [kind]);
        this.problem = answer.problem;
        this.adding = "";
        if (answer.problem) return;
        await this.whenShown(answer.revision);
        // It is the last layer; the one before it may have a new name too, if their kinds are the same.
        const card = this.parts.findLast((part) => part.layer && !before.has(part.path));
        if (card) this.show(card.path);
      },
    },
    template: `
      <div class="desk" :data-revision="revision">
        <div class="desk-scroll">
        <tl-profile :profile="profile" />
        <tl-wraps :wraps="wraps" />
        <tl-variants v-if="edit" :variants="variants" />
        <p class="soft" v-if="!edit" data-test="not-now">These fields are for looking: {{ notNow }}</p>
        <p class="problem" role="alert" v-if="shared.problem">{{ shared.problem }}</p>
        <div class="pending" v-if="own && pending.length">
          <p class="warning">Not in the design yet:</p>
          <p v-for="one in pending" :key="one.path"><button type="button" class="btn quiet" @click="show(one.path)">{{ one.words }}</button></p>
          <div class="row-buttons"><button type="button" class="btn" @click="trame.trigger('pending_drop', [''])">Let them go</button></div>
        </div>
        <tl-palettes v-if="own && edit" :palettes="palettes" />
        <tl-wish v-if="own && edit" :wish="wish" :units="units" />
        <template v-for="(card, place) in parts" :key="wraps.at + ' ' + card.slot">
          <tl-card :card="card" :open="isOpen(card)" @toggled="toggled(card, $event)" />
          <div class="add-layer" v-if="edit && place === lastLayer">
            <label class="soft" for="add-layer">Add a layer</label>
            <select id="add-layer" class="select" v-model="adding" @change="addLayer(adding)">
              <option value="">choose…</option>
              <option v-for="entry in kinds" :key="entry.kind" :value="entry.kind">{{ entry.kind }}</option>
            </select>
            <p class="problem" role="alert" v-if="problem">{{ problem }}</p>
          </div>
        </template>
        <tl-numbers :numbers="numbers" />
        <tl-shelf v-if="own" :threads="threads" :file="shelf" />
        </div>
        <p class="explained" :class="{ silent: !shared.help }" aria-hidden="true">{{ shared.help || "Point at a field, and it is explained here." }}</p>
      </div>`,
  };

  const Card = {
    inject: ["trame", "bench"],
    props: { card: Object, open: Boolean },
    emits: ["toggled"],
    data: () => ({ problem: "", asked: 0, removal: false, seldom: [], more: false, typed: null, busy: false }),
    created() {
      // What the eye does not choose is listed under More, and so are fields at their defaults when
      // the card was made; they stay there.
      const many = this.card.fields.length > 5;
      const idle = (field) => field.optional && !field.given && !field.alternatives;
      const seldom = this.card.fields.filter((field) => field.material || (many && idle(field)));
      this.seldom = seldom.map((field) => field.path.split(".").pop());
    },
    computed: {
      often() {
        return this.card.fields.filter((field) => !this.rare(field));
      },
      rarely() {
        return this.card.fields.filter((field) => this.rare(field));
      },
      title() {
        const { card } = this;
        return card.named && card.name ? card.name[0].toUpperCase() + card.name.slice(1) : card.title;
      },
      /** Whether something under More is to be looked at. */
      unfolded() {
        const { warnings, pending } = this.bench;
        const told = [...Object.keys(warnings), ...Object.keys(pending)];
        return this.rarely.some(({ path }) => told.some((one) => one === path || one.startsWith(`${path}.`)));
      },
      warned() {
        const isOwn = (path) => path === this.card.path || path.startsWith(`${this.card.path}.`);
        return Object.keys(this.bench.warnings).filter(isOwn).length;
      },
    },
    watch: {
      /** A sentence about an earlier state of the design may be wrong now. */
      "bench.revision"(now) {
        if (now > this.asked) this.problem = "";
        if (now > this.asked) this.removal = false;
      },
    },
    methods: {
      rare(field) {
        return this.seldom.includes(field.path.split(".").pop());
      },
      async ask(name, ...args) {
        const answer = await window.turnlight_fields.request(this.trame, name, args);
        this.problem = answer.problem;
        this.removal = answer.ask;
        this.asked = answer.revision ?? this.bench.revision;
        await this.bench.shown(answer.revision);
      },
      /** Make an edit that moves layers; further presses are ignored until the cards show it. */
      async once(name, ...args) {
        if (this.busy) return;
        this.busy = true;
        await this.ask(name, ...args);
        this.busy = false;
      },
      rename(event) {
        const name = event.target.value.trim();
        if (name && name !== this.card.name)
          this.ask("desk_change", `layers.${this.card.index}.name`, name);
      },
    },
    template: `
      <details class="card" :open="open" :data-card="card.path || card.id" @toggle="$emit('toggled', $event)">
        <summary>
          <span class="card-title">{{ title }}</span>
          <span class="soft">{{ card.summary }}</span>
          <span class="alert" v-if="warned" :title="warned + ' to look at'">!<span class="sr"> {{ warned }} to look at</span></span>
        </summary>
        <fieldset class="card-body" v-if="open" :disabled="!bench.edit">
          <p class="problem" role="alert" v-if="problem">{{ problem }}
            <span class="row-buttons" v-if="removal">
              <button type="button" class="btn" @click="once('desk_remove', 'layers.' + card.index, true)">Remove it</button>
              <button type="button" class="btn quiet" @click="problem = ''; removal = false">Keep it</button>
            </span></p>
          <p class="warning" v-for="text in bench.warnings[card.path] || []" :key="text">{{ text }}</p>
          <div class="field" v-if="card.kinds && card.kinds.length">
            <div class="field-head">
              <label :for="'kind-' + card.id">Kind</label>
              <select class="select" :id="'kind-' + card.id" :value="card.kind"
                @change="ask('desk_set_kind', card.path, $event.target.value)">
                <option v-for="kind in card.kinds" :key="kind" :value="kind">{{ kind }}</option>
              </select>
            </div>
          </div>
          <component :is="bench.component(field)" v-for="field in often" :field="field"
            :key="field.alternatives ? field.alternatives[0].path : field.path" />
          <div class="field" v-if="card.layer && card.named">
            <div class="field-head">
              <label :for="'name-' + card.id">Name</label>
              <input class="text short" :id="'name-' + card.id" type="text" :value="card.name" @change="rename">
            </div>
          </div>
          <details class="more" v-if="rarely.length" :open="more || unfolded" @toggle="more = $event.target.open">
            <summary>More</summary>
            <template v-if="more || unfolded">
              <component :is="bench.component(field)" v-for="field in rarely" :key="field.path" :field="field" />
            </template>
          </details>
          <div class="row-buttons" v-if="bench.edit && card.layer">
            <button type="button" class="btn quiet" v-if="!card.first"
              @click="once('desk_move', 'layers.' + card.index, card.index - 1)">Move earlier</button>
            <button type="button" class="btn quiet" v-if="!card.last"
              @click="once('desk_move', 'layers.' + card.index, card.index + 1)">Move later</button>
            <button type="button" class="btn quiet" @click="ask('desk_duplicate', 'layers.' + card.index)">Copy</button>
            <button type="button" class="btn quiet" v-if="card.pattern" title="Every thread stays where it is; each step can then be changed"
              @click="once('desk_write_out', card.path)">Write out every step</button>
            <button type="button" class="btn quiet" @click="once('desk_remove', 'layers.' + card.index)">Remove</button>
          </div>
        </fieldset>
      </details>`,
  };

  /** Bench figures, in the order of the bench sheet. */
  const Numbers = {
    inject: ["bench"],
    props: { numbers: Object },
    data: () => ({ open: false, all: false }),
    methods: {
      shown(section) {
        return section.figures.filter((figure) => this.all || figure.main);
      },
    },
    template: `
      <details class="card" data-card="numbers" :open="open" @toggle="open = $event.target.open">
        <summary><span class="card-title">Figures to build by</span>
          <span class="soft">{{ numbers.fresh ? "" : numbers.trouble ? "interrupted" : "being worked out …" }}</span>
          <span class="alert" v-if="numbers.warnings.length" title="to look at">!<span class="sr"> {{ numbers.warnings.length }} to look at</span></span></summary>
        <div class="card-body numbers" :class="{ stale: !numbers.fresh }" v-if="open" :aria-busy="numbers.fresh ? 'false' : 'true'">
          <p class="soft" v-if="!numbers.fresh && !numbers.trouble">{{ numbers.sections.length
            ? "Before the last change; being worked out anew …" : "Being worked out …" }}</p>
          <p class="warning" v-if="numbers.trouble">{{ numbers.trouble }}</p>
          <p class="warning" v-for="text in numbers.warnings" :key="text">{{ text }}</p>
          <section v-for="section in numbers.sections" :key="section.title">
            <h2 v-if="shown(section).length">{{ section.title }}</h2>
            <dl><div v-for="figure in shown(section)" :key="figure.name" :title="figure.how" @mouseenter="bench.help = figure.how">
              <dt>{{ figure.name }}</dt><dd>{{ figure.text }}</dd></div></dl>
          </section>
          <label class="check"><input type="checkbox" v-model="all"> Show all of them</label>
        </div>
      </details>`,
  };

  /** Where something is kept beside the design, which has no file yet. */
  const SaveFirst = {
    methods: {
      save: () => window.dispatchEvent(new Event("turnlight-save")),
    },
    template: `<button type="button" class="btn quiet" @click="save">Save the design…</button>`,
  };

  window.turnlight_cards = {
    install(app) {
      app.component("tl-bench", Bench);
      app.component("tl-save-first", SaveFirst);
      app.component("tl-card", Card);
      app.component("tl-numbers", Numbers);
    },
  };
})();
