// Fields of the cards: numbers with sliders, choices, colours, threads, lists, and whole parts.
//
// What a field holds is the server's; only what is being typed or dragged is the field's own.
(() => {
  let count = 0;
  const fresh = (stem) => `${stem}-${++count}`;

  /** Changes under way: what takes back or saves waits for them. */
  const underWay = new Set();
  const idle = async () => {
    while (underWay.size) await new Promise((done) => setTimeout(done, 15));
  };

  const plain = (number) => String(Number(Number(number).toPrecision(6)));

  /** Change one field of the design. While an answer is awaited only the newest value is kept. */
  const changing = {
    inject: ["trame", "bench"],
    data: () => ({ problem: "", waiting: null, busy: false, gesture: "", burst: 0 }),
    methods: {
      ask(name, ...args) {
        return this.trame.trigger(name, args);
      },
      newGesture() {
        this.gesture = `${this.field.path}#${Date.now()}`;
      },
      /** Key presses that follow each other closely are one step to take back. */
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
          const answer = await this.ask("desk_change", this.field.path, next.value, next.gesture);
          this.take(answer);
        }
        this.busy = false;
        underWay.delete(this);
        this.settled();
      },
      settled() {},
      /** Ask for a change, and wait until the page shows it: the answer comes before the state. */
      async plainly(name, ...args) {
        const answer = await this.ask(name, ...args);
        this.take(answer);
        if (answer) await this.bench.shown(answer.revision);
      },
      take(answer) {
        this.problem = (answer && answer.problem) || "";
      },
      explain() {
        this.bench.help = this.field.help || "";
      },
    },
  };

  const NumberField = {
    mixins: [changing],
    props: { field: Object, label: String, compact: Boolean, terse: Boolean },
    data: () => ({ id: fresh("number"), typed: null, drag: null, frozen: null, reach: null }),
    watch: {
      field() {
        if (this.drag !== null && !this.busy && !this.frozen) this.compare();
      },
    },
    created() {
      const { value } = this.field;
      if (value > 0) {
        // A slider over all that is allowed would be too coarse where a thing is small of its kind.
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
        const steps = (high - low) / step;
        return steps >= 1 && steps <= 6000 ? { low, high, step } : null;
      },
      text() {
        if (this.typed !== null) return this.typed;
        return this.drag !== null ? plain(this.drag) : this.field.text;
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
        if (text === this.field.text) {
          this.typed = null;
          this.problem = "";
        } else if (text === "" && this.field.optional) {
          this.typed = null;
          this.plainly("desk_clear", this.field.path);
        } else if (!this.busy || this.committed !== text) {
          // The Enter key commits, and then the browser tells of the same change once more.
          this.committed = text;
          this.change(text);
        }
      },
      settled() {
        if (this.problem) {
          this.drag = null;
        } else if (!this.frozen) {
          this.typed = null;
          // The answer may come before the state that it speaks of: until then what was set stays.
          clearTimeout(this.patience);
          this.patience = setTimeout(this.caught_up, 1000);
          this.compare();
        }
      },
      compare() {
        const same = Math.abs(this.drag - this.field.value) <= 1e-6 * Math.abs(this.drag) + 1e-9;
        if (this.drag !== null && same) this.caught_up();
      },
      caught_up() {
        if (!this.busy && !this.frozen) this.drag = null;
      },
      put_back() {
        this.typed = null;
        this.problem = "";
      },
      nudge(event, sign) {
        if (this.field.value === null) return;
        this.keyGesture();
        const finest = this.limits ? this.limits.step : this.field.step;
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
      <div class="field" :class="{ wrong: problem, compact }" :data-path="field.path"
          @mouseenter="explain" @focusin="explain">
        <div class="field-head">
          <label :for="id" :class="{ sr: compact }">{{ label || field.label }}</label>
          <span class="entry">
            <input :id="id" class="num" :class="{ long: text.length > (compact ? 5 : 8) }" type="text"
              inputmode="decimal" autocomplete="off" :value="text" :placeholder="field.optional ? '–' : ''"
              :data-typed="typed !== null ? 'yes' : null"
              :aria-invalid="problem ? 'true' : null" :aria-describedby="id + '-more'"
              @input="typed = $event.target.value" @change="commit" @keydown.enter="commit"
              @keydown.esc="put_back" @keydown.up.prevent="nudge($event, 1)"
              @keydown.down.prevent="nudge($event, -1)" @focus="$event.target.select()">
            <span class="unit">{{ unit }}</span>
          </span>
        </div>
        <input v-if="!compact && !terse && limits" class="slider" type="range" :aria-label="label || field.label"
          :min="limits.low" :max="limits.high" :step="limits.step" :value="position"
          :aria-valuetext="spoken"
          :style="{ '--part': (position - limits.low) / (limits.high - limits.low) }"
          @pointerdown="hold" @input="slide" @change="release">
        <div class="slider-room" v-else-if="!compact && !terse && field.value !== null && !bench.bounds[field.path]"></div>
        <span class="sr" :id="id + '-more'">{{ field.help }}. {{ problem }}</span>
        <p class="problem" role="alert" v-if="problem">{{ problem }}</p>
        <tl-told v-if="!compact" :path="field.path" />
      </div>`,
  };

  const Told = {
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
        const answer = await this.trame.trigger("desk_change", [change.path, change.value]);
        this.bench.problem = answer.problem;
      },
    },
    template: `
      <template v-for="(one, place) in figures" :key="place">
        <p class="derived" v-if="one.text">{{ one.text }}</p>
        <button type="button" class="btn quiet offer" v-if="one.take" :title="one.take.help"
          @click="take(one.take)">{{ one.take.label }}</button>
      </template>
      <p class="warning" v-for="text in warnings" :key="text">{{ text }}</p>`,
  };

  const ChoiceField = {
    mixins: [changing],
    props: { field: Object, label: String, compact: Boolean },
    data: () => ({ id: fresh("choice") }),
    computed: {
      few() {
        const { choices } = this.field;
        return choices.length <= 3 && choices.reduce((n, one) => n + one.label.length, 0) < 36;
      },
    },
    template: `
      <div class="field" :class="{ wrong: problem, compact }" :data-path="field.path"
          @mouseenter="explain" @focusin="explain">
        <fieldset class="choice" v-if="few">
          <legend>{{ label || field.label }}</legend>
          <div class="seg">
            <label v-for="one in field.choices" :key="one.value">
              <input type="radio" :name="id" :value="one.value" :checked="one.value === field.value"
                @change="change(one.value)"><span>{{ one.label }}</span>
            </label>
          </div>
        </fieldset>
        <div class="field-head" v-else>
          <label :for="id">{{ label || field.label }}</label>
          <select :id="id" class="select" :value="field.value" :aria-describedby="id + '-more'"
            @change="change($event.target.value)">
            <option v-for="one in field.choices" :key="one.value" :value="one.value">{{ one.label }}</option>
          </select>
        </div>
        <span class="sr" :id="id + '-more'">{{ field.help }}</span>
        <p class="problem" role="alert" v-if="problem">{{ problem }}</p>
        <tl-told :path="field.path" />
      </div>`,
  };

  const FlagField = {
    mixins: [changing],
    props: { field: Object, label: String },
    data: () => ({ id: fresh("flag") }),
    computed: {
      /** A word alone does not say what is on when it is. */
      meant() {
        const words = (this.field.help || "").replace(/^Whether /, "");
        return words && `${words[0].toUpperCase()}${words.slice(1)}.`;
      },
    },
    template: `
      <div class="field" :class="{ wrong: problem }" :data-path="field.path"
          @mouseenter="explain" @focusin="explain">
        <label class="check"><input type="checkbox" :checked="field.value" :aria-describedby="id"
          @change="change($event.target.checked)"> {{ label || field.label }}</label>
        <p class="soft meant" :id="id">{{ meant }}</p>
        <p class="problem" role="alert" v-if="problem">{{ problem }}</p>
        <tl-told :path="field.path" />
      </div>`,
  };

  const TextField = {
    mixins: [changing],
    props: { field: Object, label: String },
    data: () => ({ id: fresh("text"), typed: null }),
    computed: {
      many() {
        return this.field.type !== "text";
      },
    },
    methods: {
      commit() {
        if (this.typed === null) return;
        if (this.typed === this.field.value) this.put_back();
        else if (this.typed.trim() === "" && this.field.optional) {
          this.typed = null;
          this.plainly("desk_clear", this.field.path);
        } else this.change(this.typed);
      },
      settled() {
        if (!this.problem) this.typed = null;
      },
      put_back() {
        this.typed = null;
        this.problem = "";
      },
    },
    template: `
      <div class="field wide" :class="{ wrong: problem }" :data-path="field.path"
          @mouseenter="explain" @focusin="explain">
        <label :for="id">{{ label || field.label }}</label>
        <textarea v-if="many" :id="id" class="text" :class="{ mono: field.type === 'toml' }" rows="3"
          :value="typed !== null ? typed : field.value" :data-typed="typed !== null ? 'yes' : null"
          :aria-invalid="problem ? 'true' : null" @input="typed = $event.target.value"
          @change="commit" @keydown.esc="put_back"></textarea>
        <input v-else :id="id" class="text" type="text" autocomplete="off"
          :value="typed !== null ? typed : field.value" :data-typed="typed !== null ? 'yes' : null"
          :aria-invalid="problem ? 'true' : null" @input="typed = $event.target.value"
          @change="commit" @keydown.enter="commit" @keydown.esc="put_back">
        <p class="problem" role="alert" v-if="problem">{{ problem }}</p>
        <tl-told :path="field.path" />
      </div>`,
  };

  /** A file beside the design: one that is there, or one from this device. */
  const FileField = {
    mixins: [changing],
    props: { field: Object, label: String },
    data: () => ({ id: fresh("file"), open: false, files: [], over: false, sending: false }),
    computed: {
      pictures() {
        return this.field.endings.includes(".png");
      },
      own() {
        return this.files.filter((one) => !one.shipped);
      },
      shipped() {
        return this.files.filter((one) => one.shipped);
      },
      groups() {
        return [
          { title: "Beside the design", files: this.own },
          { title: "With Turnlight", files: this.shipped },
        ].filter((one) => one.files.length);
      },
    },
    methods: {
      async unfold() {
        this.open = !this.open;
        if (this.open) this.files = await this.ask("beside_list", this.field.path);
      },
      small(name) {
        return `beside/${encodeURIComponent(name)}`;
      },
      async name(name) {
        if (name === this.field.value) return;
        await this.alone(() => this.plainly("beside_name", this.field.path, name));
      },
      leave_out() {
        return this.alone(() => this.plainly("desk_clear", this.field.path));
      },
      chosen(event) {
        const file = event.target.files[0];
        // So that the same file may be chosen again.
        event.target.value = "";
        this.bring(file);
      },
      dropped(event) {
        this.over = false;
        this.bring(event.dataTransfer.files[0]);
      },
      async bring(file) {
        if (!file || this.sending || !this.bench.own) return;
        if (!this.bench.saved) {
          this.problem = "Save the design first: its files are kept beside it.";
          return;
        }
        if (file.size > this.field.most) {
          this.problem = `"${file.name}" is larger than ${this.field.most / 1e6} MB; give a smaller one.`;
          return;
        }
        this.sending = true;
        await this.alone(() => this.sent(file));
        this.sending = false;
        if (this.open) this.files = await this.ask("beside_list", this.field.path);
      },
      async sent(file) {
        const where = new URLSearchParams({ path: this.field.path, name: file.name });
        try {
          const response = await fetch(`beside?${where}`, { method: "POST", body: file });
          const answer = await response.json();
          this.take(answer);
          await this.bench.shown(answer.revision);
        } catch {
          this.problem = "The file could not be sent; try again.";
        }
      },
      async alone(act) {
        this.problem = "";
        underWay.add(this);
        await act();
        underWay.delete(this);
      },
    },
    template: `
      <div class="field file-field" :class="{ wrong: problem, over }" :data-path="field.path"
          @mouseenter="explain" @focusin="explain"
          @dragover.prevent="over = true" @dragleave="over = false" @drop.prevent="dropped">
        <div class="field-head">
          <span :id="id">{{ label || field.label }}</span>
          <button type="button" class="thread file" :aria-expanded="open ? 'true' : 'false'"
            :aria-labelledby="id + ' ' + id + '-name'" :disabled="!bench.own" @click="unfold">
            <img v-if="bench.own && pictures && field.value" :key="field.value" :src="small(field.value)" alt="">
            <span :id="id + '-name'">{{ field.value || field.without }}</span>
          </button>
        </div>
        <p class="problem" role="alert" v-if="problem">{{ problem }}</p>
        <div class="picker" v-if="open">
          <template v-for="group in groups" :key="group.title">
            <p class="kind" :id="id + group.title">{{ group.title }}</p>
            <ul class="file-list" :aria-labelledby="id + group.title">
              <li v-for="one in group.files" :key="one.name">
                <button type="button" class="option" :aria-pressed="one.name === field.value ? 'true' : 'false'"
                  @click="name(one.name)">
                  <img v-if="pictures" :src="small(one.name)" alt="" loading="lazy">
                  <span class="name">{{ one.name }}</span>
                </button>
              </li>
            </ul>
          </template>
          <p class="soft none" v-if="!files.length">There is none yet.</p>
          <div class="row-buttons">
            <label class="btn" :class="{ off: !bench.saved || sending }">
              <input type="file" class="sr" :accept="field.endings.join()" :disabled="!bench.saved || sending"
                @change="chosen">{{ sending ? 'Being sent …' : 'Choose a file…' }}</label>
            <button type="button" class="btn quiet" v-if="field.optional && field.value && !field.instead"
              @click="leave_out">Leave it out</button>
          </div>
          <p class="soft">{{ bench.saved ? 'Or drop one here: ' + field.takes + '. It is kept beside the design.'
            : 'Save the design first to bring a file of your own: it is kept beside the design.' }}</p>
        </div>
        <tl-told :path="field.path" />
      </div>`,
  };

  // A file dropped beside its field must not take the place of the page.
  for (const name of ["dragover", "drop"])
    window.addEventListener(name, (event) => {
      if ([...event.dataTransfer.types].includes("Files")) event.preventDefault();
    });

  const ColourField = {
    mixins: [changing],
    props: { field: Object, label: String, compact: Boolean },
    data: () => ({ id: fresh("colour"), typed: null }),
    methods: {
      commit() {
        if (this.typed !== null) this.change(this.typed.trim());
      },
      settled() {
        if (!this.problem) this.typed = null;
      },
    },
    template: `
      <div class="field" :class="{ wrong: problem, compact }" :data-path="field.path"
          @mouseenter="explain" @focusin="explain">
        <div class="field-head">
          <label :for="id" :class="{ sr: compact }">{{ label || field.label }}</label>
          <span class="entry">
            <input type="color" class="well" :value="field.value" :aria-label="field.label + ', picked'"
              @change="change($event.target.value)">
            <input :id="id" class="num hex" type="text" autocomplete="off" spellcheck="false"
              :value="typed !== null ? typed : field.value" :data-typed="typed !== null ? 'yes' : null"
              :aria-invalid="problem ? 'true' : null" @input="typed = $event.target.value"
              @change="commit" @keydown.enter="commit" @keydown.esc="typed = null; problem = ''">
          </span>
        </div>
        <p class="problem" role="alert" v-if="problem">{{ problem }}</p>
      </div>`,
  };

  const ThreadField = {
    mixins: [changing],
    props: { field: Object, label: String, compact: Boolean },
    data: () => ({ id: fresh("thread"), open: false, words: "", at: 0 }),
    computed: {
      thread() {
        return this.bench.threads.find((one) => one.name === this.field.value);
      },
      found() {
        const words = this.words.toLocaleLowerCase().split(/\s+/).filter(Boolean);
        const said = (one) =>
          `${one.name} ${one.kind} size ${one.size}${one.own ? " own" : ""}`.toLocaleLowerCase();
        return this.bench.threads.filter((one) => words.every((word) => said(one).includes(word)));
      },
      groups() {
        const groups = [];
        for (const one of this.found) {
          if (!groups.length || groups[groups.length - 1].kind !== one.kind)
            groups.push({ kind: one.kind, threads: [] });
          groups[groups.length - 1].threads.push(one);
        }
        return groups;
      },
    },
    watch: {
      words() {
        this.at = 0;
      },
    },
    methods: {
      unfold() {
        this.open = !this.open;
        if (!this.open) return;
        this.words = "";
        this.$nextTick(() => {
          this.at = Math.max(this.found.findIndex((one) => one.name === this.field.value), 0);
          this.$refs.search.focus();
          this.reveal();
        });
      },
      fold() {
        this.open = false;
        this.$nextTick(() => this.$refs.button.focus());
      },
      step(by) {
        this.at = (this.at + by + this.found.length) % Math.max(this.found.length, 1);
        this.$nextTick(this.reveal);
      },
      reveal() {
        const option = document.getElementById(`${this.id}-${this.at}`);
        if (option) option.scrollIntoView({ block: "nearest" });
      },
      choose(one) {
        this.fold();
        if (one && one.name !== this.field.value) this.change(one.name);
      },
      left(event) {
        if (!this.$el.contains(event.relatedTarget)) this.open = false;
      },
      place(one) {
        return this.found.indexOf(one);
      },
    },
    template: `
      <div class="field" :class="{ wrong: problem, compact }" :data-path="field.path"
          @mouseenter="explain" @focusin="explain" @focusout="open && left($event)">
        <div class="field-head">
          <span :id="id" :class="{ sr: compact }">{{ label || field.label }}</span>
          <button type="button" ref="button" class="thread" :aria-expanded="open ? 'true' : 'false'"
            :aria-labelledby="id + ' ' + id + '-name'" @click="unfold">
            <span class="swatch" :class="thread && thread.kind.replace(' ', '-')"
              :style="{ '--colour': thread ? thread.colour : 'transparent' }"></span>
            <span :id="id + '-name'">{{ field.value }}</span>
          </button>
        </div>
        <div class="picker" v-if="open" @keydown.esc.stop="fold">
          <input ref="search" type="search" class="text" v-model="words" placeholder="name, kind or size"
            role="combobox" aria-label="Search the shelf" aria-expanded="true" :aria-controls="id + '-list'"
            :aria-activedescendant="id + '-' + at"
            @keydown.down.prevent="step(1)" @keydown.up.prevent="step(-1)"
            @keydown.enter.prevent="choose(found[at])">
          <div class="threads" role="listbox" :id="id + '-list'" aria-label="Threads on the shelf" tabindex="-1">
            <div v-for="group in groups" :key="group.kind + group.threads[0].name" role="group" :aria-label="group.kind">
              <p class="kind" aria-hidden="true">{{ group.kind }}</p>
              <div v-for="one in group.threads" :key="one.name" role="option" :id="id + '-' + place(one)"
                class="option" :class="{ at: place(one) === at }"
                :aria-selected="one.name === field.value ? 'true' : 'false'"
                @mousedown.prevent @click="choose(one)" @mousemove="at = place(one)">
                <span class="swatch" :class="one.kind.replace(' ', '-')" :style="{ '--colour': one.colour }"></span>
                <span class="name">{{ one.name }}</span>
                <span class="soft">{{ one.own ? 'yours' : one.size }}</span>
              </div>
            </div>
            <p class="soft none" v-if="!found.length">No thread on the shelf is called that.</p>
          </div>
        </div>
        <p class="problem" role="alert" v-if="problem">{{ problem }}</p>
        <tl-told v-if="!compact" :path="field.path" />
      </div>`,
  };

  const RowsField = {
    mixins: [changing],
    props: { field: Object, label: String },
    data: () => ({ id: fresh("rows"), dragged: null, over: null, aim: 0, spoken: "" }),
    computed: {
      movable() {
        return this.field.ordered && this.field.rows.length > 1;
      },
      order() {
        const rows = this.field.rows.map((row, place) => ({ row, place }));
        if (this.dragged !== null && this.over !== null) {
          const [one] = rows.splice(this.dragged, 1);
          rows.splice(this.over, 0, one);
        }
        return rows;
      },
    },
    methods: {
      /** A row with more than fits beside each other has its fields below each other. */
      tall(row) {
        return Boolean(row.kind) || row.fields.length > 2;
      },
      /** In a row of few fields the first says what the others are of. */
      named(row, one) {
        const first = row.fields[0];
        return this.tall(row) || one === first ? one.label : `${one.label}, ${this.said(row)}`;
      },
      said(row) {
        const first = row.fields[0];
        return String(first.value ?? first.text ?? row.kind);
      },
      /** Keys may be faster than answers: what they move then goes on from where it will be. */
      async step(place, by) {
        if (this.dragged !== null) return;
        const to = (this.busy ? this.aim : place) + by;
        if (to < 0 || to >= this.field.rows.length) return;
        this.aim = to;
        if (!this.busy) this.refocus(".handle", await this.move(place));
      },
      /** Move a row to `aim`, and on if that changes meanwhile; give where it came to. */
      async move(at) {
        const name = this.said(this.field.rows[at]);
        await this.alone(async () => {
          while (at !== this.aim && !this.problem) {
            const to = this.aim;
            await this.plainly("desk_move", `${this.field.path}.${at}`, to);
            if (!this.problem) at = to;
          }
        });
        if (!this.problem) this.spoken = `${name} is ${at + 1} of ${this.field.rows.length}.`;
        return at;
      },
      /** Do what gives rows other places; until it is shown they are not what they seem to be. */
      async alone(act) {
        this.busy = true;
        this.problem = "";
        underWay.add(this);
        await act();
        underWay.delete(this);
        this.busy = false;
      },
      /** The keyboard goes with what it moved, unless it has been taken elsewhere. */
      refocus(what, place) {
        const now = document.activeElement;
        if (now !== document.body && !this.$el.contains(now)) return;
        const there = this.$el.querySelectorAll(what);
        const next = there[Math.min(place, there.length - 1)] || this.$el.querySelector(".add");
        if (next) next.focus();
      },
      lift(event, place) {
        if (event.button || this.busy) return;
        this.dragged = this.over = place;
        event.target.closest(".handle").setPointerCapture(event.pointerId);
      },
      carry(event) {
        if (this.dragged === null) return;
        const rows = [...this.$el.querySelectorAll(":scope > .rows > .row")];
        const place = rows.findIndex((row) => event.clientY < row.getBoundingClientRect().bottom);
        this.over = place < 0 ? rows.length - 1 : place;
      },
      drop() {
        const [from, to] = [this.dragged, this.over];
        this.dragged = this.over = null;
        if (from === null || from === to) return;
        this.aim = to;
        this.move(from);
      },
      async add(kind = "") {
        await this.plainly("desk_add", this.field.path, kind);
      },
      async remove(row, place) {
        if (this.busy) return;
        await this.alone(() => this.plainly("desk_remove", row.path));
        if (!this.problem) this.refocus(".remove", place);
      },
    },
    template: `
      <div class="field wide" :class="{ wrong: problem }" :data-path="field.path"
          @mouseenter="explain" @focusin="explain">
        <p class="rows-name" :id="id">{{ label || field.label }}</p>
        <p class="columns" aria-hidden="true" v-if="field.columns.length === 2 && field.rows.length" :class="{ movable }">
          <span v-for="(one, place) in field.columns" :key="one.label" :class="'of-' + field.rows[0].fields[place].type">{{ one.label }}</span></p>
        <ul class="rows" :class="{ dragging: dragged !== null }" :aria-labelledby="id">
          <li class="row" v-for="{ row, place } in order" :key="place"
              :class="{ lifted: place === dragged, tall: tall(row) }" :data-path="row.path">
            <button type="button" class="handle" v-if="movable"
              :aria-label="'Move ' + said(row) + ', ' + (place + 1) + ' of ' + field.rows.length + ', with the arrow keys'"
              title="Drag, or use the arrow keys" @pointerdown="lift($event, place)" @pointermove="carry"
              @pointerup="drop" @pointercancel="dragged = over = null"
              @keydown.up.prevent="step(place, -1)"
              @keydown.down.prevent="step(place, 1)"><span aria-hidden="true">⠿</span></button>
            <span class="row-kind" v-if="tall(row)">{{ row.kind || place + 1 }}</span>
            <component :is="bench.component(one)" v-for="one in row.fields" :key="one.path" :field="one"
              :label="named(row, one)" :compact="!tall(row)" :terse="tall(row)" />
            <button type="button" class="btn icon remove" :aria-label="'Remove ' + said(row)" title="Remove"
              @click="remove(row, place)"><span aria-hidden="true">×</span></button>
            <tl-told :path="row.path" />
          </li>
        </ul>
        <p class="sr" aria-live="polite">{{ spoken }}</p>
        <p class="problem" role="alert" v-if="problem">{{ problem }}</p>
        <tl-told :path="field.path" />
        <div class="row-buttons">
          <template v-if="field.kinds.length">
            <button type="button" class="btn quiet add" v-for="kind in field.kinds" :key="kind"
              @click="add(kind)">Add a {{ kind }}</button>
          </template>
          <button type="button" class="btn quiet add" v-else @click="add()">Add {{ field.one }}</button>
        </div>
      </div>`,
  };

  const GroupField = {
    mixins: [changing],
    props: { field: Object, label: String },
    template: `
      <fieldset class="group" :data-path="field.path">
        <legend>{{ label || field.label }}</legend>
        <component :is="bench.component(one)" v-for="one in field.fields" :key="one.path" :field="one" />
        <tl-told :path="field.path" />
        <p class="problem" role="alert" v-if="problem">{{ problem }}</p>
        <div class="row-buttons" v-if="field.optional">
          <button type="button" class="btn quiet" @click="plainly('desk_clear', field.path)">Leave it out</button>
        </div>
      </fieldset>`,
  };

  /** A part that the design does not have: it comes into being when all of it is given. */
  const DraftField = {
    mixins: [changing],
    props: { field: Object, label: String },
    data: () => ({ id: fresh("draft"), open: false, typed: {} }),
    methods: {
      async give() {
        const changes = {};
        for (const one of this.field.fields) changes[one.path] = this.typed[one.path] || "";
        this.take(await this.ask("desk_changes", changes));
      },
    },
    template: `
      <div class="field" :class="{ wrong: problem }" :data-path="field.path" @mouseenter="explain" @focusin="explain">
        <div class="field-head">
          <span>{{ label || field.label }}</span>
          <button type="button" class="btn quiet" :aria-expanded="open ? 'true' : 'false'" @click="open = !open">{{ open ? 'Not now' : 'Give it' }}</button>
        </div>
        <form class="group" v-if="open" @submit.prevent="give" novalidate>
          <div class="field-head" v-for="one in field.fields" :key="one.path">
            <label :for="id + one.path">{{ one.label }}</label>
            <span class="entry"><input class="num" type="text" inputmode="decimal" autocomplete="off" :id="id + one.path" :title="one.help" v-model="typed[one.path]"><span class="unit">{{ one.unit }}</span></span>
          </div>
          <p class="problem" role="alert" v-if="problem">{{ problem }}</p>
          <div class="row-buttons"><button type="submit" class="btn">Take it into the design</button></div>
        </form>
      </div>`,
  };

  /** Fields of which a layer has exactly one: which of them is given, and that one. */
  const OneOf = {
    mixins: [changing],
    props: { field: Object },
    data: () => ({ id: fresh("instead") }),
    template: `
      <div class="one-of" @mouseenter="explain">
        <fieldset class="choice">
          <legend class="sr">Given as</legend>
          <div class="seg">
            <label v-for="one in field.instead" :key="one.path">
              <input type="radio" :name="id" :checked="one.given" :data-instead="one.path"
                @change="plainly('desk_instead', one.path)"><span>{{ one.label }}</span>
            </label>
          </div>
        </fieldset>
        <p class="problem" role="alert" v-if="problem">{{ problem }}</p>
        <component :is="bench.component({ ...field, instead: null })" :key="field.path" :field="field" />
      </div>`,
  };

  window.turnlight_fields = {
    underWay,
    idle,
    install(app) {
      app.component("tl-told", Told);
      app.component("tl-number", NumberField);
      app.component("tl-choice", ChoiceField);
      app.component("tl-flag", FlagField);
      app.component("tl-text", TextField);
      app.component("tl-file", FileField);
      app.component("tl-colour", ColourField);
      app.component("tl-thread", ThreadField);
      app.component("tl-rows", RowsField);
      app.component("tl-group", GroupField);
      app.component("tl-draft", DraftField);
      app.component("tl-one-of", OneOf);
    },
  };
})();
