// Fields of the cards: numbers with sliders, choices and text, and the mixin of all fields.
//
// The value of a field is state of the program; only text being typed and a drag are local.
(() => {
  let count = 0;
  const uniqueId = (stem) => `${stem}-${++count}`;

  /** Components with requests under way; undo and save wait until there are none. */
  const underWay = new Set();
  const idle = async () => {
    while (underWay.size) await new Promise((done) => setTimeout(done, 15));
  };

  const NOT_NOW = "guests may not change this design at present; whoever shares the page can let them.";

  /** Call a method whose answer tells its ``problem``; a refusal becomes such an answer too. */
  const request = async (trame, name, args = []) => {
    try {
      return await trame.trigger(name, args);
    } catch (refused) {
      const sentence = (refused && refused.message) || "Turnlight has not answered.";
      const forbidden = sentence.includes("not for guests");
      return { problem: forbidden ? `Not changed: ${NOT_NOW}` : sentence, field: "", ask: false, forbidden };
    }
  };

  const plain = (number) => String(Number(Number(number).toPrecision(6)));

  /** Mixin: changes one field of the design. While a request is under way only the newest value waits. */
  const changing = {
    inject: ["trame", "bench"],
    data: () => ({ problem: "", answered: 0, withdrawn: "", waiting: null, busy: false, gesture: "", burst: 0 }),
    computed: {
      /** What was typed into this field and does not fit the design yet. */
      held() {
        return (this.field && this.bench.pending[this.field.path]) || null;
      },
      sentence() {
        return this.problem || (this.held ? this.held.problem : "");
      },
      /** What the field shows: what waits in it, else the design's value. */
      shownValue() {
        return this.held ? this.held.text : this.field.value;
      },
    },
    watch: {
      /** From now on the page shows what was typed, and its reason, from the document. */
      held(now, before) {
        const typed = typeof this.typed === "string" ? this.typed.trim() : null;
        const shown = (now || before).text.trim();
        if (typed !== null && typed !== shown) return;
        if (typed !== null) this.typed = null;
        if (!this.withdrawn) this.problem = "";
      },
      /** The reason of a refusal holds for the design that refused it. */
      "bench.revision"(now) {
        if (now > this.answered && !this.busy) this.problem = this.withdrawn;
      },
      "bench.edit": {
        handler(edit) {
          if (!edit) return this.withdraw();
          if (this.problem === this.withdrawn) this.problem = "";
          this.withdrawn = "";
        },
        // Before the field is disabled: it then loses the focus, and would commit what was typed.
        flush: "sync",
      },
    },
    methods: {
      async ask(name, ...args) {
        const answer = await request(this.trame, name, args);
        if (answer && answer.forbidden) this.withdraw(answer.problem);
        return answer;
      },
      /** Show the design's value again: what was typed or dragged here may not be sent. */
      withdraw(problem = "") {
        const unsent = typeof this.typed === "string" ? this.typed : this.drag;
        this.waiting = null;
        if (typeof this.typed === "string") this.typed = null;
        if (typeof this.drag === "number") this.drag = this.frozen = null;
        if (unsent !== null && unsent !== undefined) this.withdrawn = `${unsent} was not taken: ${NOT_NOW}`;
        else this.withdrawn = this.withdrawn || problem;
        this.problem = this.withdrawn || this.problem;
      },
      /** Commit what is typed, or try again what does not fit yet. */
      enter() {
        if (this.typed === null && this.held) this.typed = this.held.text;
        this.commit();
      },
      /** Choose one of a list. What waits is tried again; the design's own value ends the waiting. */
      pick(value) {
        return value === this.field.value && !this.held ? undefined : this.change(value);
      },
      /** Give up what was typed or chosen and does not fit. */
      discardTyped() {
        // The answer to a refused value arrives before the state that holds it.
        if (this.bench.own && (this.held || this.problem)) this.ask("pending_drop", this.field.path);
        if (typeof this.typed === "string") this.typed = null;
        this.problem = "";
      },
      newGesture() {
        this.gesture = `${this.field.path}#${Date.now()}`;
      },
      /** Key presses in quick succession are one step of the undo history. */
      keyGesture() {
        const now = Date.now();
        if (now - this.burst > 1200) this.newGesture();
        this.burst = now;
      },
      async change(value, gesture = "") {
        this.waiting = { value, gesture };
        if (this.busy) return;
        this.busy = true;
        underWay.add(this);
        while (this.waiting) {
          const next = this.waiting;
          this.waiting = null;
          this.take(await this.ask("desk_change", this.field.path, next.value, next.gesture));
        }
        this.busy = false;
        underWay.delete(this);
        this.settled();
      },
      settled() {},
      /** Make an edit, and wait until the page shows it: the answer arrives before the state. */
      async editAndWait(name, ...args) {
        const answer = await this.ask(name, ...args);
        this.take(answer);
        if (answer) await this.bench.shown(answer.revision);
      },
      take(answer) {
        if (!answer || !answer.forbidden) this.withdrawn = "";
        this.problem = this.withdrawn || (answer && answer.problem) || "";
        this.answered = (answer && answer.revision) ?? this.bench.revision;
      },
      explain() {
        this.bench.help = this.field.help || "";
      },
    },
  };

  const NumberField = {
    mixins: [changing],
    props: { field: Object, label: String, compact: Boolean, terse: Boolean },
    data: () => ({ id: uniqueId("number"), typed: null, drag: null, frozen: null, reach: null, locked: false }),
    watch: {
      field(now, before) {
        // Locked, the value stays the same whole number of what it is counted in. What was typed,
        // and an earlier value that is taken back, may be no whole number, and unlock it.
        const parts = now.value / now.grid;
        if (this.locked && Math.abs(parts - Math.round(parts)) > 1e-3) {
          if (now.unit !== before.unit || now.grid === before.grid) this.locked = false;
          else this.change(this.onGrid(Math.round(now.value / before.grid) * now.grid));
        }
        if (this.drag !== null && !this.busy && !this.frozen) this.compare();
      },
    },
    created() {
      const { value } = this.field;
      if (value > 0) {
        // A slider over the whole allowed range would be too coarse for small values.
        const power = 10 ** Math.floor(Math.log10(4 * value));
        this.reach = [1, 2, 5, 10].map((n) => n * power).find((n) => n >= 4 * value);
      }
    },
    computed: {
      limits() {
        if (this.frozen) return this.frozen;
        const found = this.bench.bounds[this.field.path];
        if (!found || this.field.value === null) return null;
        let [low, high, step] = found;
        if (this.reach && low >= 0 && high > 3 * this.reach) high = Math.max(this.reach, this.field.value);
        if (this.locked) {
          step = this.field.grid;
          [low, high] = [this.onGrid(Math.ceil(low / step) * step), this.onGrid(Math.floor(high / step) * step)];
        }
        const steps = (high - low) / step;
        return steps >= 1 && steps <= 6000 ? { low, high, step } : null;
      },
      text() {
        if (this.typed !== null) return this.typed;
        if (this.drag !== null) return plain(this.drag);
        return this.held ? this.held.text : this.field.text;
      },
      position() {
        return this.drag !== null ? this.drag : this.field.value;
      },
      unit() {
        return this.field.unit;
      },
      spoken() {
        return `${plain(this.position)} ${this.unit === "°" ? "degrees" : this.unit}`.trim();
      },
    },
    methods: {
      commit() {
        if (this.typed === null) return;
        const text = this.typed.trim();
        if (text === this.field.text && !this.held) {
          this.typed = null;
          this.problem = "";
        } else if (text === "" && this.field.optional) {
          this.typed = null;
          this.editAndWait("desk_clear", this.field.path);
        } else if (!this.busy || this.committed !== text) {
          // The Enter key commits, and then the browser fires a change event for the same text.
          this.committed = text;
          this.change(text);
        }
      },
      settled() {
        if (this.problem) {
          this.drag = null;
        } else if (!this.frozen) {
          this.typed = null;
          // The answer may arrive before the changed state: until then the local value stays.
          clearTimeout(this.dropTimer);
          this.dropTimer = setTimeout(this.dropDrag, 1000);
          this.compare();
        }
      },
      compare() {
        const same = Math.abs(this.drag - this.field.value) <= 1e-6 * Math.abs(this.drag) + 1e-9;
        if (this.drag !== null && same) this.dropDrag();
      },
      dropDrag() {
        if (!this.busy && !this.frozen) this.drag = null;
      },
      onGrid: (value) => Number(value.toPrecision(9)),
      async lock(event) {
        const locked = event.target.checked;
        // A number that was typed just before counts.
        await window.turnlight_fields.idle();
        await this.bench.shown(this.answered);
        this.locked = locked;
        if (!locked) return;
        const whole = this.onGrid(Math.max(Math.round(this.field.value / this.field.grid), 1) * this.field.grid);
        if (whole !== this.field.value) this.change(whole);
      },
      nudge(event, sign) {
        if (this.field.value === null) return;
        this.keyGesture();
        const finest = this.locked ? this.field.grid : this.limits ? this.limits.step : this.field.step;
        const step = finest * (event.shiftKey ? 10 : 1);
        const from = this.drag !== null ? this.drag : this.field.value;
        const grid = Math.round(from / step + sign) * step;
        this.typed = null;
        this.drag = Number(grid.toPrecision(9));
        this.change(this.drag, this.gesture);
      },
      hold() {
        if (!this.frozen) this.newGesture();
        this.frozen = this.limits;
      },
      slide(event) {
        if (!this.frozen) this.keyGesture();
        this.typed = null;
        this.drag = Number(event.target.value);
        this.change(this.drag, this.gesture);
      },
      release() {
        this.frozen = null;
        if (!this.busy) this.settled();
        this.ask("desk_settle");
      },
    },
    template: `
      <div class="field" :class="{ wrong: sentence, compact }" :data-path="field.path"
          @mouseenter="explain" @focusin="explain">
        <div class="field-head">
          <label :for="id" :class="{ sr: compact }">{{ label || field.label }}</label>
          <span class="entry">
            <input :id="id" class="num" :class="{ long: text.length > (compact ? 5 : 8) }" type="text"
              inputmode="decimal" autocomplete="off" :value="text" :placeholder="field.optional ? '–' : ''"
              :data-typed="typed !== null ? 'yes' : null"
              :aria-invalid="sentence ? 'true' : null" :aria-describedby="id + '-more'"
              @input="typed = $event.target.value" @change="commit" @blur="commit" @keydown.enter="enter"
              @keydown.esc="discardTyped" @keydown.up.prevent="nudge($event, 1)"
              @keydown.down.prevent="nudge($event, -1)" @focus="$event.target.select()">
            <span class="unit">{{ unit }}</span>
          </span>
        </div>
        <input v-if="!compact && !terse && limits" class="slider" type="range" :aria-label="label || field.label"
          :min="limits.low" :max="limits.high" :step="limits.step" :value="position"
          :aria-valuetext="spoken"
          :style="{ '--part': (position - limits.low) / (limits.high - limits.low) }"
          @pointerdown="hold" @input="slide" @change="release">
        <div class="slider-room" v-else-if="!compact && !terse && !field.sets && field.value !== null && !bench.bounds[field.path]"></div>
        <label class="check" v-if="field.grid && !compact"><input type="checkbox" :checked="locked" @change="lock">
          Only whole {{ field.grid_name }}s, also when the {{ field.grid_name }} is changed</label>
        <span class="sr" :id="id + '-more'">{{ field.help }}. {{ sentence }}</span>
        <p class="problem" role="alert" v-if="sentence">{{ sentence }}</p>
        <tl-notes v-if="!compact" :path="field.path" />
      </div>`,
  };

  const Notes = {
    inject: ["trame", "bench"],
    props: { path: String },
    computed: {
      figures() {
        return this.bench.figures[this.path] || [];
      },
      warnings() {
        return this.bench.warnings[this.path] || [];
      },
    },
    methods: {
      async take(change) {
        const answer = await request(this.trame, "desk_change", [change.path, change.value]);
        this.bench.problem = answer.problem;
      },
    },
    template: `
      <template v-for="(figure, place) in figures" :key="place">
        <p class="derived" v-if="figure.text">{{ figure.text }}</p>
        <button type="button" class="btn quiet offer" v-if="figure.take" :title="figure.take.help"
          @click="take(figure.take)">{{ figure.take.label }}</button>
      </template>
      <p class="warning" v-for="text in warnings" :key="text">{{ text }}</p>`,
  };

  const ChoiceField = {
    mixins: [changing],
    props: { field: Object, label: String, compact: Boolean },
    data: () => ({ id: uniqueId("choice") }),
    computed: {
      few() {
        const { choices } = this.field;
        return choices.length <= 3 && choices.reduce((n, choice) => n + choice.label.length, 0) < 36;
      },
    },
    methods: {
      /** Choose an entry; that of an empty value leaves the field out. */
      async choose(value) {
        if (value || !this.field.optional) return this.change(value);
        if (this.held) await this.ask("pending_drop", this.field.path);
        if (this.field.value) await this.editAndWait("desk_clear", this.field.path);
        if (this.problem) this.showValue();
      },
      settled() {
        if (this.problem && !this.bench.own) this.showValue(); // The answer arrives before the state.
      },
      /** What the browser has chosen is not the design's value if that was refused. */
      showValue() {
        const select = this.$el.querySelector("select");
        if (select) select.value = this.field.value;
        for (const radio of this.$el.querySelectorAll("input[type=radio]"))
          radio.checked = radio.value === String(this.field.value);
      },
    },
    template: `
      <div class="field" :class="{ wrong: sentence, compact }" :data-path="field.path"
          @mouseenter="explain" @focusin="explain">
        <fieldset class="choice" v-if="few">
          <legend>{{ label || field.label }}</legend>
          <div class="seg">
            <label v-for="choice in field.choices" :key="choice.value">
              <input type="radio" :name="id" :value="choice.value" :checked="choice.value === shownValue"
                @change="choose(choice.value)"><span>{{ choice.label }}</span>
            </label>
          </div>
        </fieldset>
        <div class="field-head" v-else>
          <label :for="id">{{ label || field.label }}</label>
          <select :id="id" class="select" :value="shownValue" :aria-describedby="id + '-more'"
            @change="choose($event.target.value)">
            <option v-for="choice in field.choices" :key="choice.value" :value="choice.value">{{ choice.label }}</option>
          </select>
        </div>
        <span class="sr" :id="id + '-more'">{{ field.help }}</span>
        <p class="problem" role="alert" v-if="sentence">{{ sentence }}</p>
        <tl-notes :path="field.path" />
      </div>`,
  };

  const FlagField = {
    mixins: [changing],
    props: { field: Object, label: String },
    data: () => ({ id: uniqueId("flag") }),
    computed: {
      /** The help text, because the label alone does not say what the tick means. */
      explanation() {
        const words = (this.field.help || "").replace(/^Whether /, "");
        return words && `${words[0].toUpperCase()}${words.slice(1)}.`;
      },
    },
    methods: {
      /** What the browser shows as ticked is not the design's value if that was refused. */
      settled() {
        if (this.problem && !this.bench.own) this.$el.querySelector("input").checked = this.field.value;
      },
    },
    template: `
      <div class="field" :class="{ wrong: sentence }" :data-path="field.path"
          @mouseenter="explain" @focusin="explain">
        <label class="check"><input type="checkbox" :checked="held ? held.text === 'yes' : field.value"
          :aria-invalid="sentence ? 'true' : null" :aria-describedby="id" @keydown.esc="discardTyped"
          @change="change($event.target.checked)"> {{ label || field.label }}</label>
        <p class="soft meant" :id="id">{{ explanation }}</p>
        <p class="problem" role="alert" v-if="sentence">{{ sentence }}</p>
        <tl-notes :path="field.path" />
      </div>`,
  };

  const TextField = {
    mixins: [changing],
    props: { field: Object, label: String, compact: Boolean },
    data: () => ({ id: uniqueId("text"), typed: null }),
    computed: {
      many() {
        return this.field.type !== "text";
      },
      shownText() {
        return this.typed !== null ? this.typed : this.shownValue;
      },
    },
    methods: {
      commit() {
        if (this.typed === null) return;
        if (this.typed === this.field.value && !this.held) this.discardTyped();
        else if (this.typed.trim() === "" && this.field.optional) {
          this.typed = null;
          this.editAndWait("desk_clear", this.field.path);
        } else if (!this.busy || this.committed !== this.typed) {
          this.committed = this.typed;
          this.change(this.typed);
        }
      },
      settled() {
        if (!this.problem) this.typed = null;
      },
    },
    template: `
      <div class="field" :class="{ wrong: sentence, compact, wide: !compact }" :data-path="field.path"
          @mouseenter="explain" @focusin="explain">
        <label :for="id" :class="{ sr: compact }">{{ label || field.label }}</label>
        <textarea v-if="many" :id="id" class="text" :class="{ mono: field.type === 'toml' }" rows="3"
          :value="shownText" :data-typed="typed !== null ? 'yes' : null"
          :aria-invalid="sentence ? 'true' : null" @input="typed = $event.target.value"
          @change="commit" @blur="commit" @keydown.esc="discardTyped"></textarea>
        <input v-else :id="id" class="text" type="text" autocomplete="off"
          :value="shownText" :data-typed="typed !== null ? 'yes' : null"
          :aria-invalid="sentence ? 'true' : null" @input="typed = $event.target.value"
          @change="commit" @blur="commit" @keydown.enter="enter" @keydown.esc="discardTyped">
        <p class="problem" role="alert" v-if="sentence">{{ sentence }}</p>
        <tl-notes v-if="!compact" :path="field.path" />
      </div>`,
  };

  window.turnlight_fields = {
    changing,
    uniqueId,
    underWay,
    idle,
    request,
    NOT_NOW,
    install(app) {
      app.component("tl-notes", Notes);
      app.component("tl-number", NumberField);
      app.component("tl-choice", ChoiceField);
      app.component("tl-flag", FlagField);
      app.component("tl-text", TextField);
    },
  };
})();
