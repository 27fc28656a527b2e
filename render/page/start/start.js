// New for my rod: the questions before a first design. Answers may be unfinished; they stay here.
(() => {
  const LOOK_DELAY = 350; // ms without typing after which the answers are looked at

  const EMPTY = () => ({
    title: "", customer: "", rod: "", units: "mm", readings: "", below: "", above: "", from: "", to: "", wrap: "", threads: [],
  });

  const NOTHING_SEEN = () => ({ of: {}, problems: {}, facts: [], remarks: [] });

  const Start = {
    inject: ["trame"],
    props: { open: Boolean, trouble: String },
    emits: ["close", "make", "changed"],
    data: () => ({
      answers: EMPTY(),
      left: {}, // questions that were left once: only those are marked
      choices: { wraps: [], threads: [] },
      look: NOTHING_SEEN(),
      looking: 0,
    }),
    computed: {
      wrap() {
        return this.choices.wraps.find((wrap) => wrap.name === this.answers.wrap);
      },
      kinds() {
        const kinds = {};
        for (const thread of this.choices.threads) (kinds[thread.kind] = kinds[thread.kind] || []).push(thread);
        return kinds;
      },
      openQuestions() {
        return Object.keys(this.look.problems).length;
      },
    },
    watch: {
      async open(now) {
        if (!now) return;
        // A screen keyboard would cover the form.
        if (matchMedia("(pointer: fine)").matches) this.$nextTick(() => this.$refs.form?.querySelector("input").focus());
        if (this.choices.wraps.length) return;
        this.choices = await this.trame.trigger("start_choices");
      },
    },
    methods: {
      said(field) {
        // What was said of an answer does not hold for another that is typed since.
        const known = this.left[field] && String(this.look.of[field]) === String(this.answers[field]);
        return known ? this.look.problems[field] || "" : "";
      },
      leave(field) {
        // An empty question is not marked until the design is asked for.
        if (this.answers[field]) this.left[field] = true;
      },
      changed() {
        clearTimeout(this.timer);
        this.timer = setTimeout(this.examine, LOOK_DELAY);
      },
      async examine() {
        this.$emit("changed");
        const number = (this.looking += 1);
        const of = { ...this.answers };
        const look = await this.trame.trigger("start_look", [of]);
        if (number === this.looking) this.look = { ...look, of };
      },
      choose(wrap) {
        this.answers.wrap = wrap.name;
        this.answers.threads = [];
        this.left.wrap = true;
        this.examine();
      },
      threadAt(at) {
        return this.answers.threads[at] || this.wrap.threads[at];
      },
      colour(name) {
        const thread = this.choices.threads.find((one) => one.name === name);
        return { "--colour": thread ? thread.colour : "transparent" };
      },
      pickThread(at, name) {
        this.answers.threads = this.wrap.threads.map((own, place) =>
          place === at ? name : this.threadAt(place));
        this.examine();
      },
      async make() {
        clearTimeout(this.timer);
        await this.examine();
        for (const field of Object.keys(this.look.problems)) this.left[field] = true;
        if (!this.openQuestions) this.$emit("make", { ...this.answers });
        else this.$nextTick(() => this.$refs.form.querySelector("[aria-invalid=true]")?.focus());
      },
      clear() {
        this.answers = EMPTY();
        this.left = {};
        this.look = NOTHING_SEEN();
      },
    },
    template: `
      <tl-dialog :open="open" label="New for my rod" wide @close="$emit('close')">
        <form class="start" ref="form" novalidate @submit.prevent="make" @input="changed">
          <div class="start-questions">
            <div class="start-words">
              <p v-for="field in [
                  { name: 'title', label: 'Title of the design', hint: '' },
                  { name: 'customer', label: 'Customer', hint: 'may stay empty' },
                  { name: 'rod', label: 'Rod number', hint: 'may stay empty' }]" :key="field.name" class="start-field">
                <label :for="'start-' + field.name">{{ field.label }} <span class="soft">{{ field.hint }}</span></label>
                <input :id="'start-' + field.name" class="text" type="text" autocomplete="off" v-model="answers[field.name]"
                  :aria-invalid="said(field.name) ? 'true' : null" @blur="leave(field.name)">
                <span class="problem" role="alert" v-if="said(field.name)">{{ said(field.name) }}</span>
              </p>
            </div>
            <div class="start-blank">
              <div class="start-field">
                <span class="start-head"><label for="start-readings">Caliper readings, two or more</label>
                  <fieldset class="seg"><legend class="sr">Units</legend>
                    <label v-for="unit in ['mm', 'in']" :key="unit"><input type="radio" name="start-units" :value="unit"
                      v-model="answers.units" @change="examine"><span>{{ unit }}</span></label></fieldset></span>
                <textarea id="start-readings" class="text" rows="5" spellcheck="false" v-model="answers.readings"
                  :placeholder="answers.units === 'mm' ? '290  15,35\\n350  15,05\\n420  14,6' : '11.5  0.604\\n14  0.59\\n16.5  0.575'"
                  aria-describedby="start-readings-hint" :aria-invalid="said('readings') ? 'true' : null"
                  @blur="leave('readings')"></textarea>
                <span class="soft" id="start-readings-hint">In each line the distance from the butt, then the diameter; or
                  paste two columns of a spreadsheet.</span>
                <span class="problem" role="alert" v-if="said('readings')">{{ said('readings') }}</span>
              </div>
              <div class="start-ends">
                <p v-for="end in [
                    { name: 'below', label: 'Grip ends at' }, { name: 'above', label: 'Next grip begins at' },
                    { name: 'from', label: 'Wrap from' }, { name: 'to', label: 'Wrap to' }]" :key="end.name" class="start-field">
                  <label :for="'start-' + end.name">{{ end.label }}, {{ answers.units }}</label>
                  <input :id="'start-' + end.name" class="num" type="text" inputmode="decimal" autocomplete="off"
                    v-model="answers[end.name]" aria-describedby="start-ends-hint"
                    :aria-invalid="said(end.name) ? 'true' : null" @blur="leave(end.name)">
                  <span class="problem" role="alert" v-if="said(end.name)">{{ said(end.name) }}</span>
                </p>
                <p class="soft" id="start-ends-hint">All from the butt. Grips may stay empty; beside a grip the wrap's own
                  end may, and cover and finish then reach to the grip.</p>
              </div>
            </div>
            <fieldset class="start-wraps" :aria-invalid="said('wrap') ? 'true' : null" tabindex="-1">
              <legend>Kind of wrap</legend>
              <label v-for="wrap in choices.wraps" :key="wrap.name" class="sample">
                <input type="radio" class="sr" name="start-wrap" :value="wrap.name" :checked="answers.wrap === wrap.name"
                  @change="choose(wrap)">
                <img :src="wrap.picture" alt="" width="240" height="135">
                <strong>{{ wrap.name[0].toUpperCase() + wrap.name.slice(1) }}</strong>
                <span class="soft">{{ wrap.description }}</span>
              </label>
              <p class="problem" role="alert" v-if="said('wrap')">{{ said('wrap') }}</p>
            </fieldset>
            <fieldset class="start-threads" v-if="wrap">
              <legend>Threads</legend>
              <label v-for="(own, at) in wrap.threads" :key="own" class="start-thread">
                <span class="swatch" :style="colour(threadAt(at))"></span><span class="sr">Thread {{ at + 1 }}</span>
                <select :value="threadAt(at)" @change="pickThread(at, $event.target.value)">
                  <optgroup v-for="(threads, kind) in kinds" :key="kind" :label="kind">
                    <option v-for="thread in threads" :key="thread.name" :value="thread.name">{{ thread.name }}</option>
                  </optgroup>
                </select>
              </label>
              <p class="problem" role="alert" v-if="said('threads')">{{ said('threads') }}</p>
            </fieldset>
            <p class="derived" v-if="look.facts.length" data-test="start-facts">Fitted to the blank: {{ look.facts.join('; ') }}.</p>
            <p class="warning" v-for="remark in look.remarks" :key="remark">{{ remark }}</p>
          </div>
          <p class="problem" role="alert" v-if="trouble">{{ trouble }}</p>
          <div class="choices">
            <button type="submit" class="btn main">Lay it out</button>
            <button type="button" class="btn quiet" @click="clear">Empty the form</button>
            <button type="button" class="btn" @click="$emit('close')">Close</button>
          </div>
        </form>
      </tl-dialog>`,
  };

  window.turnlight_start = {
    install(app) {
      app.component("tl-start", Start);
    },
  };
})();
