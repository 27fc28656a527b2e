// The card of the variants: what each changes, why one is set aside, and what can be done with it.
(() => {
  /** A variant that has just been kept under a proposed name, which is changed in its place. */
  const Kept = {
    inject: ["trame"],
    props: { name: String },
    emits: ["renamed", "close"],
    data: () => ({ typed: "", problem: "" }),
    watch: {
      name: {
        handler(name) {
          this.typed = name;
          this.problem = "";
        },
        immediate: true,
      },
    },
    mounted() {
      // A keyboard on the screen would cover what is looked at.
      if (matchMedia("(pointer: fine)").matches) this.$refs.name.select();
    },
    methods: {
      async rename() {
        const wanted = this.typed.trim();
        if (!wanted || wanted === this.name) {
          this.typed = this.name;
          return;
        }
        const answer = await window.turnlight_fields.request(this.trame, "variant_rename", [this.name, wanted]);
        this.problem = answer.problem;
        if (!answer.problem) this.$emit("renamed", wanted);
      },
    },
    template: `
      <div class="kept" data-test="kept">
        <label class="field-head"><span class="label">Kept as the variant</span>
          <input class="text" ref="name" v-model="typed" maxlength="60" data-test="kept-name" :aria-invalid="Boolean(problem)"
            @change="rename" @keydown.enter.prevent="rename" @keydown.esc.stop="typed = name" @input="problem = ''"></label>
        <button type="button" class="btn quiet" title="It stays among the variants" @click="$emit('close')">Done</button>
        <p class="problem" role="alert" v-if="problem">{{ problem }}</p>
      </div>`,
  };

  const Variants = {
    inject: ["trame"],
    props: { variants: Array },
    data: () => ({ open: false, problem: "", renaming: "", name: "", busy: false }),
    methods: {
      /** Make an edit of the list; presses meanwhile are ignored. */
      async ask(method, ...args) {
        if (this.busy) return null;
        this.busy = true;
        const answer = await window.turnlight_fields.request(this.trame, method, args);
        this.busy = false;
        this.problem = answer.problem;
        return answer;
      },
      async beside(variant) {
        const answer = await this.ask("variant_open", variant.name);
        if (!answer || answer.problem) return;
        this.trame.state.set("side_kept", "");
        this.trame.state.set("side_open", true);
      },
      rename(variant) {
        this.renaming = variant.name;
        this.name = variant.name;
        this.problem = "";
        this.$nextTick(() => this.$el.querySelector("input.text").select());
      },
      async keepName() {
        const same = this.name.trim() === this.renaming;
        const answer = same ? { problem: "" } : await this.ask("variant_rename", this.renaming, this.name);
        if (answer && !answer.problem) this.renaming = "";
      },
    },
    template: `
      <details class="card" data-card="variants" :open="open" @toggle="open = $event.target.open">
        <summary><span class="card-title">Variants</span><span class="soft">{{ variants.length }}</span></summary>
        <div class="card-body" v-if="open">
          <p class="problem" role="alert" v-if="problem">{{ problem }}</p>
          <p class="soft" v-if="!variants.length">None yet. Press Compare and “Keep this as A”, change the design, and keep B as a variant.</p>
          <section class="variant" v-for="(variant, place) in variants" :key="variant.name" :data-variant="variant.name">
            <form v-if="renaming === variant.name" class="field-head" @submit.prevent="keepName">
              <label :for="'variant-' + place">Name</label>
              <input class="text" :id="'variant-' + place" v-model="name" maxlength="60" @keydown.esc="renaming = ''">
              <button type="submit" class="btn">Rename</button>
            </form>
            <p v-else><strong>{{ variant.name }}</strong><span class="soft"> {{ variant.words.join(", ") }}</span></p>
            <p class="warning" v-if="variant.reason">Set aside, because it does not fit the design: {{ variant.reason }}</p>
            <div class="row-buttons">
              <button type="button" class="btn quiet" title="Show it as B beside the design, to look at it or change it"
                @click="beside(variant)">Show beside</button>
              <button type="button" class="btn quiet" v-if="!variant.reason"
                title="The design becomes a variant in its place" @click="ask('variant_promote', variant.name)">Make this the design</button>
              <button type="button" class="btn quiet" v-if="renaming !== variant.name" @click="rename(variant)">Rename</button>
              <button type="button" class="btn quiet" v-if="place" :aria-label="'Move ' + variant.name + ' up'"
                @click="ask('desk_move', 'variants.' + place, place - 1)">Up</button>
              <button type="button" class="btn quiet" v-if="place < variants.length - 1" :aria-label="'Move ' + variant.name + ' down'"
                @click="ask('desk_move', 'variants.' + place, place + 1)">Down</button>
              <button type="button" class="btn quiet" :aria-label="'Remove ' + variant.name"
                @click="ask('desk_remove', 'variants.' + place)">Remove</button>
            </div>
          </section>
        </div>
      </details>`,
  };

  window.turnlight_variants = {
    install(app) {
      app.component("tl-variants", Variants);
      app.component("tl-kept", Kept);
    },
  };
})();
