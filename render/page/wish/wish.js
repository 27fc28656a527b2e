// The card "I wish…": what the design should come to, what may change for it, and what was found.
(() => {
  const MEET = "meet";
  const RELATIONS = [
    { value: "is", label: "is" },
    { value: "most", label: "at most" },
    { value: "least", label: "at least" },
    { value: "whole", label: "a whole number" },
  ];
  const ONLY_A_NUMBER = /^[+-]?(\d+([.,]\d*)?|[.,]\d+)$/;

  const Wish = {
    inject: ["trame", "bench"],
    props: { wish: Object, units: String },
    data: () => ({ open: false, wishes: [{ name: "", relation: "is", value: "" }], only: false, free: [], chosen: 0, problem: "", takes: "" }),
    computed: {
      choices() {
        const { measures } = this.wish;
        const closes = measures.some(({ name }) => name === "diamonds" || name === "cells_along");
        const meet = { name: MEET, label: "the pattern closes at the guide line", now: "", unit: "", what: "whole diamonds, or whole cells" };
        return closes ? [...measures, meet] : measures;
      },
      /** Names of what is wished, where that is chosen for every wish. */
      names() {
        const names = this.wishes.map(({ name }) => name);
        return names.every(Boolean) ? names.join() : "";
      },
      /** All that a search is asked with. */
      asked() {
        return [this.wishes, this.only, this.free];
      },
      searching() {
        return this.wish.share !== null;
      },
    },
    watch: {
      "wish.rows"(rows, before) {
        this.chosen = rows.length > 1 ? 1 : 0;
        this.problem = "";
        if (rows.length) this.reveal("found");
        // Without its offers the card's head would be left above the view.
        else if (before.length && this.open) this.$nextTick(() => this.$refs.head.scrollIntoView({ block: "nearest" }));
      },
      /** What was missing may be there now. */
      asked: {
        handler() {
          this.problem = "";
        },
        deep: true,
      },
      names() {
        this.forecast();
      },
      /** After a search it is known how long one takes. */
      searching(now) {
        this.forecast();
        if (now) this.reveal("progress");
      },
      /** Another design has other measures. */
      "bench.revision"() {
        if (this.open) this.measure();
      },
      units() {
        if (this.open) this.measure();
      },
    },
    methods: {
      toggled(event) {
        this.open = event.target.open;
        if (this.open) this.measure();
      },
      /** Bring into view what a press in this card has led to, unless the builder has gone elsewhere. */
      async reveal(name) {
        await this.$nextTick();
        const { form } = this.$refs;
        const there = this.$refs[name];
        if (!form || !there) return;
        const { top, bottom } = form.getBoundingClientRect();
        if (bottom > 0 && top < innerHeight) there.scrollIntoView({ block: "nearest" });
      },
      async forecast() {
        const { names } = this;
        const takes = names ? await this.trame.trigger("wish_takes", [names.split(",")]) : "";
        if (names === this.names) this.takes = takes;
      },
      measure() {
        this.trame.trigger("wish_open", [this.units]);
      },
      of(name) {
        return this.choices.find((one) => one.name === name) || { label: name.replaceAll("_", " "), now: "", unit: "", what: "", counted: false };
      },
      now(name) {
        const { now, built } = this.of(name);
        if (now) return `; now ${now}`;
        return built && this.wish.measuring ? "; what it is now is being worked out …" : "";
      },
      relations(name) {
        return RELATIONS.filter((relation) => relation.value !== "whole" || this.of(name).counted);
      },
      named(one) {
        // Nobody wishes for a heavy wrap.
        if (one.name === "weight" && !one.value) one.relation = "most";
        if (!this.relations(one.name).some((relation) => relation.value === one.relation)) one.relation = "is";
      },
      /** A wish as it is written on the command line, with its unit. */
      text(one) {
        const typed = one.value.trim();
        const unit = this.of(one.name).unit;
        const value = ONLY_A_NUMBER.test(typed) ? `${typed.replace(",", ".")} ${unit}` : typed;
        return `${one.name}=${one.relation === "whole" ? "whole" : value.trim()}`;
      },
      /** What is still to be said before a search: a sentence, and the control that says it. */
      missing() {
        const lines = this.$el.querySelectorAll(".wish-line");
        for (const [place, one] of this.wishes.entries()) {
          const within = (test) => lines[place].querySelector(`[data-test=${test}]`);
          if (!one.name) return ["Choose what you wish for.", within("wish-name")];
          const valued = one.name !== MEET && one.relation !== "whole";
          if (valued && !one.value.trim()) return [`Give a value for ${this.of(one.name).label}.`, within("wish-value")];
        }
        const none = this.only && !this.free.length;
        return none ? ["Tick at least one field that may change.", this.$el.querySelector(".wish-free input")] : null;
      },
      async search() {
        if (this.searching) return;
        const [words, control] = this.missing() || ["", null];
        this.problem = words;
        if (words) return control?.focus();
        const written = { is: [], most: [], least: [] };
        for (const one of this.wishes) {
          if (one.name === MEET) written.is.push(MEET);
          else written[one.relation === "whole" ? "is" : one.relation].push(this.text(one));
        }
        const free = this.only ? this.free : [];
        await this.trame.trigger("wish_search", [this.units, written.is, written.most, written.least, free]);
      },
      async take() {
        const answer = await window.turnlight_fields.request(this.trame, "wish_take", [this.chosen]);
        this.problem = answer.problem;
      },
    },
    template: `
      <details class="card wish" data-card="wish" :open="open" @toggle="toggled">
        <summary ref="head"><span class="card-title">I wish…</span><span class="soft">five whole turns, a wider strip, less weight</span></summary>
        <div class="card-body" v-if="open">
          <form class="wish-form" ref="form" @submit.prevent="search">
            <fieldset class="wish-line" v-for="(one, place) in wishes" :key="place">
              <legend class="sr">Wish {{ place + 1 }}</legend>
              <select class="select" v-model="one.name" @change="named(one)" :aria-label="'What is wished, ' + (place + 1)" data-test="wish-name">
                <option value="">choose…</option>
                <option v-for="choice in choices" :key="choice.name" :value="choice.name">{{ choice.label }}</option>
              </select>
              <template v-if="one.name && one.name !== 'meet'">
                <select class="select" v-model="one.relation" :aria-label="'How, wish ' + (place + 1)" data-test="wish-relation">
                  <option v-for="relation in relations(one.name)" :key="relation.value" :value="relation.value">{{ relation.label }}</option>
                </select>
                <span class="entry" v-if="one.relation !== 'whole'">
                  <input class="num" type="text" inputmode="decimal" autocomplete="off" v-model="one.value"
                    :aria-label="'Value, wish ' + (place + 1)" data-test="wish-value">
                  <span class="unit">{{ of(one.name).unit }}</span>
                </span>
              </template>
              <button type="button" class="btn quiet icon" v-if="wishes.length > 1" :aria-label="'Leave out wish ' + (place + 1)"
                @click="wishes.splice(place, 1)">×</button>
              <p class="soft" v-if="one.name">{{ of(one.name).what }}{{ now(one.name) }}</p>
            </fieldset>
            <div class="row-buttons">
              <button type="button" class="btn quiet" v-if="wishes.length < 6" @click="wishes.push({ name: '', relation: 'is', value: '' })">And I wish…</button>
            </div>
            <fieldset class="choice">
              <legend>What may change</legend>
              <div class="seg">
                <label><input type="radio" name="wish-only" :checked="!only" @change="only = false"><span>whatever serves it</span></label>
                <label><input type="radio" name="wish-only" :checked="only" @change="only = true"><span>only these</span></label>
              </div>
            </fieldset>
            <div class="wish-free" v-if="only">
              <label class="check" v-for="field in wish.fields" :key="field.path"><input type="checkbox" :value="field.path" v-model="free"> {{ field.label }}</label>
            </div>
            <div class="row-buttons">
              <button type="submit" class="btn main" :disabled="searching" data-test="wish-search">Find it</button>
              <button type="button" class="btn quiet" v-if="searching" data-test="wish-cancel" @click="trame.trigger('wish_cancel')">Cancel</button>
            </div>
            <p class="soft" v-if="takes" data-test="wish-takes">{{ takes }}</p>
          </form>
          <p class="soft" role="status" v-if="wish.busy">{{ wish.busy }}</p>
          <div class="wish-progress" ref="progress" v-if="searching">
            <progress :value="wish.share" max="1" aria-label="Progress of the search"></progress>
            <span class="soft">{{ wish.tried }}</span>
          </div>
          <p class="problem" role="alert" v-if="wish.problem || problem">{{ wish.problem || problem }}</p>
          <section v-if="wish.rows.length" ref="found" data-test="wish-found" aria-label="What was found">
            <p><strong>{{ wish.heading }}</strong> {{ wish.reason }}</p>
            <ol class="wish-offers">
              <li v-for="(row, place) in wish.rows" :key="place" :class="{ chosen: place && place === chosen }">
                <label v-if="row.changes"><input type="radio" name="wish-chosen" :value="place" v-model="chosen"> <span>{{ row.lines.join("; ") || row.label }}</span></label>
                <strong v-else>{{ place ? row.label : 'Now' }}</strong>
                <dl class="wish-figures">
                  <div v-for="(cell, at) in row.cells" :key="at" :class="{ other: cell !== wish.rows[0].cells[at] }"><dt>{{ wish.columns[at] }}</dt> <dd>{{ cell }}</dd></div>
                </dl>
                <template v-if="place && place === chosen">
                  <p class="soft" v-for="note in row.notes" :key="note">{{ note }}</p>
                  <p class="warning" v-for="warning in row.warnings" :key="warning">{{ warning }}</p>
                </template>
                <p class="warning" v-else-if="row.warnings.length">{{ row.warnings.length === 1 ? "Brings a warning." : "Brings " + row.warnings.length + " warnings." }}</p>
              </li>
            </ol>
            <p class="warning" v-if="wish.stale">{{ wish.stale }}</p>
            <div class="row-buttons">
              <button type="button" class="btn main" data-test="wish-take" v-if="wish.rows.some((row) => row.changes)"
                :disabled="Boolean(wish.stale) || !wish.rows[chosen] || !wish.rows[chosen].changes" @click="take">Take it</button>
              <button type="button" class="btn" data-test="wish-leave" @click="trame.trigger('wish_leave')">Leave it</button>
            </div>
          </section>
        </div>
      </details>`,
  };

  window.turnlight_wish = {
    install(app) {
      app.component("tl-wish", Wish);
    },
  };
})();
