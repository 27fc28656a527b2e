// The card "Colours to try": a row of colour schemes, each tried on the rod at a tap.
(() => {
  const Palettes = {
    inject: ["trame", "bench"],
    props: { palettes: Object },
    data: () => ({ open: false, problem: "", kept: "" }),
    computed: {
      listed() {
        return this.palettes.listed || [];
      },
      tried() {
        return this.palettes.tried ?? -1;
      },
      scheme() {
        return this.listed[this.tried];
      },
    },
    watch: {
      /** Another design has other schemes, and more threads other ones too. */
      "bench.revision"() {
        if (this.open) this.find();
      },
      tried() {
        this.problem = "";
        if (this.scheme) this.kept = "";
      },
    },
    created() {
      // A page that is opened anew shows what another has tried.
      this.open = this.tried >= 0;
      this.escape = (event) => {
        const elsewhere = document.querySelector("dialog[open]") || event.target.closest("input, select, textarea, .menu, .picker");
        if (event.key !== "Escape" || !this.scheme || event.defaultPrevented || elsewhere) return;
        this.ask("palettes_leave");
      };
      document.addEventListener("keydown", this.escape);
    },
    unmounted() {
      document.removeEventListener("keydown", this.escape);
    },
    methods: {
      async ask(method, ...args) {
        const answer = await window.turnlight_fields.request(this.trame, method, args);
        this.problem = answer.problem;
        return !answer.problem;
      },
      find() {
        return this.ask("palettes_find");
      },
      toggled(event) {
        if (event.target.open === this.open && this.listed.length) return;
        this.open = event.target.open;
        if (this.open) this.find();
        else if (this.scheme) this.ask("palettes_leave");
      },
      press(place) {
        if (place === this.tried) this.ask("palettes_leave");
        else this.ask("palettes_try", place);
      },
      async keepVariant() {
        const answer = await window.turnlight_fields.request(this.trame, "palettes_keep_variant", [""]);
        this.problem = answer.problem;
        if (!answer.problem) this.kept = answer.name;
      },
      words(scheme) {
        return `${scheme.name}, ${scheme.rule}: ${scheme.threads.map((thread) => thread.name).join(", ")}`;
      },
      /** The ground takes half, the others share the rest. */
      style(thread, place, all) {
        return { flexGrow: place ? 1 / (all.length - 1) : 1, "--colour": thread.colour };
      },
    },
    template: `
      <details class="card" data-card="palettes" :open="open" @toggle="toggled">
        <summary data-test="palettes"><span class="card-title">Colours to try</span><span class="soft">{{ scheme ? scheme.name : "from the threads on your shelf" }}</span></summary>
        <div class="card-body" v-if="open">
          <div class="palettes" role="group" data-test="schemes" aria-label="Colour schemes">
            <button type="button" class="palette" v-for="(one, place) in listed" :key="one.name" :aria-label="words(one)" :title="words(one)"
              :aria-pressed="place === tried ? 'true' : 'false'" :data-palette="one.name" @click="press(place)">
              <span class="strips"><span class="strip" v-for="(thread, i) in one.threads" :key="thread.name"
                :class="thread.kind.replace(' ', '-')" :style="style(thread, i, one.threads)"></span></span>
            </button>
          </div>
          <p class="soft" v-if="!listed.length && !problem">No other threads on the shelf are as thick as these.</p>
          <p class="problem" role="alert" v-if="problem">{{ problem }}</p>
          <template v-if="scheme">
            <p class="soft"><strong>{{ scheme.name }}</strong>, {{ scheme.rule }}: {{ scheme.threads.map((thread) => thread.name).join(", ") }}. Shown on the rod, and not in the design yet.</p>
            <div class="row-buttons">
              <button type="button" class="btn main" data-test="palette-keep" @click="ask('palettes_keep')">Keep this</button>
              <button type="button" class="btn" data-test="palette-variant" @click="keepVariant">Keep as a variant</button>
              <button type="button" class="btn quiet" data-test="palette-leave" @click="ask('palettes_leave')">The design’s own</button>
            </div>
          </template>
          <tl-kept v-if="kept && !scheme" :name="kept" @renamed="kept = $event" @close="kept = ''"></tl-kept>
          <p class="soft" v-if="!scheme && listed.length">Tap one to see it on the rod; tap it again, or press Esc, for the design’s own.</p>
        </div>
      </details>`,
  };

  window.turnlight_palettes = {
    install(app) {
      app.component("tl-palettes", Palettes);
    },
  };
})();
