// Fields with a picker: files, colours and threads.
(() => {
  /** A file beside the design: an existing one, or an upload from this device. */
  const FileField = {
    props: { field: Object, label: String },
    data: () => ({ id: window.turnlight_fields.uniqueId("file"), open: false, files: [], over: false, sending: false }),
    computed: {
      pictures() {
        return this.field.endings.includes(".png");
      },
      own() {
        return this.files.filter((file) => !file.shipped);
      },
      shipped() {
        return this.files.filter((file) => file.shipped);
      },
      groups() {
        return [
          { title: "Beside the design", files: this.own },
          { title: "With Turnlight", files: this.shipped },
        ].filter((group) => group.files.length);
      },
    },
    methods: {
      async unfold() {
        this.open = !this.open;
        if (this.open) this.files = await this.ask("beside_list", this.field.path);
      },
      /** Close the list; a dialog over it closes by itself first. Closed, give up what waits. */
      escape(event) {
        if (event.target.closest("dialog")) return;
        if (!this.open) return this.discardTyped();
        event.stopPropagation();
        this.open = false;
        this.$refs.button.focus();
      },
      small(name) {
        return this.trame.state.get("beside_at") + encodeURIComponent(name);
      },
      async name(name) {
        if (name === this.field.value && !this.held) return;
        await this.whileBusy(() => this.editAndWait("beside_name", this.field.path, name));
      },
      clear() {
        if (!this.field.value) return this.discardTyped();
        return this.whileBusy(() => this.editAndWait("desk_clear", this.field.path));
      },
      chosen(event) {
        const file = event.target.files[0];
        // So that choosing the same file again fires an event.
        event.target.value = "";
        this.upload(file);
      },
      dropped(event) {
        this.over = false;
        this.upload(event.dataTransfer.files[0]);
      },
      /** Bring a file to the design; gives why it was not taken, if so. */
      async upload(file) {
        if (!file || this.sending || !this.bench.own) return "";
        if (!this.bench.saved) {
          return (this.problem = "Save the design first: its files are kept beside it.");
        }
        if (file.size > this.field.most) {
          this.problem = `"${file.name}" is larger than ${this.field.most / 1e6} MB; give a smaller one.`;
          return this.problem;
        }
        this.sending = true;
        await this.whileBusy(() => this.send(file));
        this.sending = false;
        const { problem } = this;
        if (this.open) this.files = await this.ask("beside_list", this.field.path);
        // The button of the files was off meanwhile and has lost the focus: keys go on from here.
        if (this.open && document.activeElement === document.body) this.$refs.button.focus();
        return problem;
      },
      async send(file) {
        const where = new URLSearchParams({ path: this.field.path, name: file.name });
        try {
          const response = await window.turnlight_fetch(`beside?${where}`, { method: "POST", body: file });
          const answer = await response.json();
          this.take(answer);
          await this.bench.shown(answer.revision);
        } catch {
          this.problem = "The file could not be sent; try again.";
        }
      },
      async whileBusy(act) {
        this.problem = "";
        window.turnlight_fields.underWay.add(this);
        await act();
        window.turnlight_fields.underWay.delete(this);
      },
    },
    template: `
      <div class="field file-field" :class="{ wrong: sentence, over }" :data-path="field.path"
          @mouseenter="explain" @focusin="explain" @keydown.esc="escape"
          @dragover.prevent="over = true" @dragleave="over = false" @drop.prevent="dropped">
        <div class="field-head">
          <span :id="id">{{ label || field.label }}</span>
          <button type="button" ref="button" class="thread file" :aria-expanded="open ? 'true' : 'false'"
            :aria-labelledby="id + ' ' + id + '-name'" :aria-describedby="sentence ? id + '-problem' : null"
            :disabled="!bench.own" @click="unfold">
            <img v-if="bench.own && pictures && shownValue" :key="shownValue" :src="small(shownValue)" alt="">
            <span :id="id + '-name'">{{ shownValue || field.without }}</span>
          </button>
        </div>
        <p class="problem" :id="id + '-problem'" role="alert" v-if="sentence">{{ sentence }}</p>
        <div class="picker" v-if="open">
          <template v-for="group in groups" :key="group.title">
            <p class="kind" :id="id + group.title">{{ group.title }}</p>
            <ul class="file-list" :aria-labelledby="id + group.title">
              <li v-for="file in group.files" :key="file.name">
                <button type="button" class="option" :aria-pressed="file.name === shownValue ? 'true' : 'false'"
                  @click="name(file.name)">
                  <img v-if="pictures" :src="small(file.name)" alt="" loading="lazy">
                  <span class="name">{{ file.name }}</span>
                </button>
              </li>
            </ul>
          </template>
          <p class="soft none" v-if="!files.length">{{ shownValue ? 'No other file is here yet.' : 'No file is here yet: ' + (field.without || 'none') + '.' }}</p>
          <div class="row-buttons">
            <label class="btn" :class="{ off: !bench.saved || sending }">
              <input type="file" class="sr" :accept="field.endings.join()" :disabled="!bench.saved || sending"
                @change="chosen">{{ sending ? 'Being sent …' : 'Choose a file…' }}</label>
            <tl-chart v-if="field.chart" :field="field" :bring="upload" />
            <button type="button" class="btn quiet" v-if="field.optional && shownValue && !field.alternatives"
              @click="clear">Leave it out</button>
          </div>
          <p class="soft">{{ bench.saved ? 'Or drop one here: ' + field.takes + '. It is kept beside the design.'
            : 'Save the design first to bring a file of your own: it is kept beside the design.' }}
            <tl-save-first v-if="!bench.saved && bench.own" /></p>
        </div>
        <tl-notes :path="field.path" />
      </div>`,
  };

  // A file dropped outside of a field must not replace the page.
  for (const name of ["dragover", "drop"])
    window.addEventListener(name, (event) => {
      if ([...event.dataTransfer.types].includes("Files")) event.preventDefault();
    });

  const ColourField = {
    props: { field: Object, label: String, compact: Boolean },
    data: () => ({ id: window.turnlight_fields.uniqueId("colour"), typed: null }),
    computed: {
      /** Colour of the well: what waits, if it is a colour. */
      well() {
        return /^#[0-9a-f]{6}$/i.test(this.shownValue) ? this.shownValue : this.field.value;
      },
    },
    methods: {
      commit() {
        if (this.typed !== null) this.change(this.typed.trim());
      },
      settled() {
        if (!this.problem) this.typed = null;
      },
    },
    template: `
      <div class="field" :class="{ wrong: sentence, compact }" :data-path="field.path"
          @mouseenter="explain" @focusin="explain">
        <div class="field-head">
          <label :for="id" :class="{ sr: compact }">{{ label || field.label }}</label>
          <span class="entry">
            <input type="color" class="well" :value="well" :aria-label="field.label + ', picked'"
              @change="change($event.target.value)">
            <input :id="id" class="num hex" type="text" autocomplete="off" spellcheck="false"
              :value="typed !== null ? typed : shownValue" :data-typed="typed !== null ? 'yes' : null"
              :aria-invalid="sentence ? 'true' : null" :aria-describedby="sentence ? id + '-problem' : null"
              @input="typed = $event.target.value" @change="commit" @keydown.enter="enter" @keydown.esc="discardTyped">
          </span>
        </div>
        <p class="problem" :id="id + '-problem'" role="alert" v-if="sentence">{{ sentence }}</p>
      </div>`,
  };

  const ThreadField = {
    props: { field: Object, label: String, compact: Boolean },
    data: () => ({ id: window.turnlight_fields.uniqueId("thread"), open: false, words: "", hue: "", everywhere: false, at: 0, own: false, returning: false }),
    computed: {
      thread() {
        return this.bench.threads.find((thread) => thread.name === this.shownValue);
      },
      found() {
        const words = this.words.toLocaleLowerCase().split(/\s+/).filter(Boolean);
        const searchText = (thread) =>
          `${thread.name} ${thread.kind} size ${thread.size}${thread.own ? " own" : ""}`.toLocaleLowerCase();
        return this.bench.threads.filter(
          (thread) =>
            (!this.hue || this.familyOf(thread) === this.hue) && words.every((word) => searchText(thread).includes(word)),
        );
      },
      /** Families of colour of which there is a thread. */
      hues() {
        const there = new Set(this.bench.threads.map(this.familyOf));
        return window.turnlight_hues.FAMILIES.filter((family) => there.has(family.name));
      },
      /** Other places of the design that have the same thread. */
      others() {
        return Math.max((this.bench.uses[this.field.value] || 0) - 1, 0);
      },
      /** What a thread of one's own begins with: the name that was sought and is no thread's here. */
      sought() {
        const name = this.words.trim();
        return name && !this.found.length ? { name } : {};
      },
      groups() {
        const groups = [];
        for (const thread of this.found) {
          if (!groups.length || groups[groups.length - 1].kind !== thread.kind)
            groups.push({ kind: thread.kind, threads: [] });
          groups[groups.length - 1].threads.push(thread);
        }
        return groups;
      },
    },
    watch: {
      words() {
        this.at = 0;
      },
      hue() {
        this.at = 0;
      },
    },
    methods: {
      unfold() {
        this.open = !this.open;
        if (!this.open) return;
        this.words = this.hue = "";
        this.everywhere = this.own = false;
        this.$nextTick(() => {
          this.at = Math.max(this.found.findIndex((thread) => thread.name === this.shownValue), 0);
          this.$refs.search.focus();
          this.reveal();
          this.$refs.search.parentElement.scrollIntoView({ block: "nearest" });
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
      familyOf: (thread) => window.turnlight_hues.familyOf(thread.colour),
      choose(thread) {
        this.fold();
        if (!thread) return;
        if (this.everywhere && this.others && thread.name !== this.field.value) this.swap(thread.name);
        else this.pick(thread.name);
      },
      async swap(name) {
        window.turnlight_fields.underWay.add(this);
        await this.editAndWait("desk_swap_thread", this.field.value, name);
        window.turnlight_fields.underWay.delete(this);
      },
      /** A thread that is not on the shelf yet; the name that was sought is its name. */
      describe() {
        this.own = true;
        this.$nextTick(() => this.$refs.own.querySelector("input, button").focus());
      },
      /** Back to the list, from a thread of one's own that is left out. */
      list() {
        // What had the focus goes away with the form: the list must not take that for being left.
        this.returning = true;
        this.own = false;
        this.$nextTick(() => {
          this.$refs.search.focus();
          this.returning = false;
        });
      },
      kept(name) {
        this.choose({ name });
      },
      left(event) {
        // While a thread is described its photograph, or the design's name, is asked for elsewhere.
        if (this.own || this.returning) return;
        if (!this.$el.contains(event.relatedTarget)) this.open = false;
      },
      place(thread) {
        return this.found.indexOf(thread);
      },
    },
    template: `
      <div class="field" :class="{ wrong: sentence, compact }" :data-path="field.path"
          @mouseenter="explain" @focusin="explain" @focusout="open && left($event)">
        <div class="field-head">
          <span :id="id" :class="{ sr: compact }">{{ label || field.label }}</span>
          <button type="button" ref="button" class="thread" :aria-expanded="open ? 'true' : 'false'"
            :aria-labelledby="id + ' ' + id + '-name'" :aria-describedby="sentence ? id + '-problem' : null"
            @click="unfold" @keydown.esc="open ? fold() : discardTyped()">
            <span class="swatch" :class="thread && thread.kind.replace(' ', '-')"
              :style="{ '--colour': thread ? thread.colour : 'transparent' }"></span>
            <span :id="id + '-name'">{{ shownValue }}</span>
          </button>
        </div>
        <div ref="own" class="picker" v-if="open && own" @keydown.esc.stop="list">
          <p class="kind">A thread of your own</p>
          <tl-thread-form v-if="bench.shelf" :from="sought" keep="Put on the shelf and use here" @kept="kept" @leave="list" />
          <template v-else>
            <p class="soft">Save the design first: your own threads are kept in a file beside it.</p>
            <div class="row-buttons"><tl-save-first /><button type="button" class="btn quiet" @click="list">Leave it</button></div>
          </template>
        </div>
        <div class="picker" v-else-if="open" @keydown.esc.stop="fold">
          <input ref="search" type="search" class="text" v-model="words" placeholder="name, kind or size"
            role="combobox" aria-label="Search the shelf" aria-expanded="true" :aria-controls="id + '-list'"
            :aria-activedescendant="id + '-' + at"
            @keydown.down.prevent="step(1)" @keydown.up.prevent="step(-1)"
            @keydown.enter.prevent="choose(found[at])">
          <div class="hues" role="group" aria-label="Colours of thread">
            <button type="button" class="hue" v-for="family in hues" :key="family.name" :aria-label="family.name" :title="family.name"
              :aria-pressed="hue === family.name ? 'true' : 'false'" :style="{ '--colour': family.colour }"
              @click="hue = hue === family.name ? '' : family.name"></button>
          </div>
          <label class="check" v-if="others"><input type="checkbox" v-model="everywhere">
            Everywhere: also in {{ others === 1 ? "the other place" : others + " other places" }} with {{ field.value }}</label>
          <div class="threads" role="listbox" :id="id + '-list'" aria-label="Threads on the shelf" tabindex="-1">
            <div v-for="group in groups" :key="group.kind + group.threads[0].name" role="group" :aria-label="group.kind">
              <p class="kind" aria-hidden="true">{{ group.kind }}</p>
              <div v-for="thread in group.threads" :key="thread.name" role="option" :id="id + '-' + place(thread)"
                class="option" :class="{ at: place(thread) === at }"
                :aria-selected="thread.name === shownValue ? 'true' : 'false'"
                @mousedown.prevent @click="choose(thread)" @mousemove="at = place(thread)">
                <span class="swatch" :class="thread.kind.replace(' ', '-')" :style="{ '--colour': thread.colour }"></span>
                <span class="name">{{ thread.name }}</span>
                <span class="soft">{{ thread.own ? 'yours' : thread.size }}</span>
              </div>
            </div>
            <p class="soft none" v-if="!found.length">No thread on the shelf is called that{{ hue ? " and is " + hue : "" }}.</p>
          </div>
          <button type="button" class="btn quiet" v-if="bench.own" title="With its colour typed, or read from a photograph of the spool"
            @click="describe">A thread of your own…</button>
        </div>
        <p class="problem" :id="id + '-problem'" role="alert" v-if="sentence">{{ sentence }}</p>
        <tl-notes v-if="!compact" :path="field.path" />
      </div>`,
  };

  window.turnlight_pickers = {
    install(app) {
      // Scripts are loaded in any order: the mixin is defined by now.
      const { changing } = window.turnlight_fields;
      app.component("tl-file", { ...FileField, mixins: [changing] });
      app.component("tl-colour", { ...ColourField, mixins: [changing] });
      app.component("tl-thread", { ...ThreadField, mixins: [changing] });
    },
  };
})();
