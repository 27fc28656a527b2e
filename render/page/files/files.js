// The left half of the top bar: title, file menu, undo and redo, units; and their dialogs.
(() => {
  const Files = {
    inject: ["trame"],
    props: {
      title: String,
      called: String,
      path: String,
      changed: Boolean,
      undo: String,
      redo: String,
      disk: String,
      lost: Array,
      units: String,
      edit: Boolean,
      own: Boolean,
    },
    emits: ["units"],
    data: () => ({
      menu: false,
      dialog: "",
      problem: "",
      name: "",
      over: false,
      samples: [],
      places: { folder: "", beside: [], recent: [], proposed: "" },
      waiting: null,
    }),
    mounted() {
      window.addEventListener("keydown", this.key);
      window.addEventListener("turnlight-save", this.save);
      if (this.lost.length) this.dialog = "lost";
    },
    unmounted() {
      window.removeEventListener("keydown", this.key);
      window.removeEventListener("turnlight-save", this.save);
    },
    watch: {
      disk(now) {
        if (now === "changed") this.show("disk");
        else if (this.dialog === "disk") this.close();
      },
      lost(now) {
        if (!now.length && this.dialog === "lost") this.close();
      },
    },
    methods: {
      moment: (seconds) => window.turnlight_clock.moment(new Date(1000 * seconds)),
      key(event) {
        if (!(event.ctrlKey || event.metaKey) || event.altKey) return;
        const key = event.key.toLowerCase();
        const typing = event.target.dataset && event.target.dataset.typed === "yes";
        const act = { z: event.shiftKey ? "redo" : "undo", y: "redo", s: "save", o: "open" }[key];
        if (!act || !(act === "undo" || act === "redo" ? this.edit : this.own)) return;
        if (((act === "undo" || act === "redo") && (typing || this.dialog))) return;
        event.preventDefault();
        if (act === "undo" || act === "redo") this.undoOrRedo(act);
        else if (act === "save") this.commit().then(() => (event.shiftKey ? this.saveAs() : this.save()));
        else this.open();
      },
      async undoOrRedo(which) {
        await window.turnlight_fields.idle();
        this.trame.trigger(`desk_${which}`);
      },
      /** Commit text that is being typed, before saving. */
      async commit() {
        const field = document.activeElement;
        if (field && field.dataset && field.dataset.typed === "yes") {
          field.blur();
          field.focus();
        }
        await window.turnlight_fields.idle();
      },
      show(dialog) {
        this.menu = false;
        this.problem = "";
        this.over = false;
        this.dialog = dialog;
      },
      close() {
        this.dialog = "";
        this.waiting = null;
      },
      async ask(name, ...args) {
        const answer = await this.trame.trigger(name, args);
        this.problem = answer.problem;
        return answer;
      },
      /** Call a method that replaces the document, after asking about unsaved changes. */
      async replaceDocument(name, ...args) {
        const answer = await this.ask(name, ...args, false);
        if (answer.ask) {
          this.waiting = [name, ...args];
          this.dialog = "unsaved";
        } else if (!answer.problem) this.replaced();
      },
      /** Another design is read from its first card on. */
      replaced() {
        this.close();
        document.querySelector(".desk-scroll")?.scrollTo(0, 0);
      },
      makeFirst(answers) {
        return this.replaceDocument("start_make", answers);
      },
      async discardAndGoOn() {
        const [name, ...args] = this.waiting;
        const answer = await this.ask(name, ...args, true);
        if (!answer.problem) this.replaced();
      },
      async saveFirst() {
        if (!this.path) return this.saveAs();
        const answer = await this.ask("file_save");
        if (!answer.problem) await this.discardAndGoOn();
      },
      async save() {
        this.menu = false;
        if (!this.path) return this.saveAs();
        const answer = await this.ask("file_save", this.over);
        if (answer.ask) this.show("disk");
        else if (answer.problem) {
          const problem = answer.problem;
          await this.saveAs();
          this.problem = problem;
        }
      },
      async saveAs() {
        const waiting = this.waiting;
        this.show("as");
        this.waiting = waiting;
        this.name = "";
        this.$nextTick(() => this.$refs.name.focus());
        this.places = await this.trame.trigger("file_places");
        if (this.name) return; // typed meanwhile
        this.name = this.places.proposed;
        this.$nextTick(() => this.$refs.name?.select());
      },
      async saveNamed() {
        const answer = await this.ask("file_save_as", this.name, this.over);
        if (answer.ask) this.over = true;
        else if (!answer.problem) {
          if (this.waiting) await this.discardAndGoOn();
          else this.close();
        }
      },
      async open() {
        this.show("open");
        this.name = "";
        this.places = await this.trame.trigger("file_places");
      },
      async newFromSample() {
        this.show("new");
        this.samples = await this.trame.trigger("file_samples");
      },
      async keepMine() {
        await this.ask("file_keep_mine");
        this.close();
      },
      leaveMenu(event) {
        if (!event.currentTarget.contains(event.relatedTarget)) this.menu = false;
      },
      step(event, by) {
        const items = [...this.$refs.menu.querySelectorAll("[role=menuitem]")];
        const at = items.indexOf(document.activeElement);
        items[(at + by + items.length) % items.length].focus();
      },
      unfold() {
        this.menu = !this.menu;
        if (this.menu) this.$nextTick(() => this.$refs.menu.querySelector("[role=menuitem]").focus());
      },
      fold() {
        this.menu = false;
        this.$refs.unfold.focus();
      },
    },
    template: `
      <div class="files">
        <div class="menu-holder" v-if="own" @focusout="leaveMenu" @keydown.esc="menu && fold()">
          <button type="button" ref="unfold" class="btn" aria-haspopup="menu" :aria-expanded="menu ? 'true' : 'false'"
            @click="unfold" @keydown.down.prevent="menu || unfold()">File <span aria-hidden="true">▾</span></button>
          <div class="menu" role="menu" aria-label="File" ref="menu" v-if="menu"
            @keydown.down.prevent="step($event, 1)" @keydown.up.prevent="step($event, -1)">
            <button type="button" role="menuitem" @click="show('start')">New for my rod…</button>
            <button type="button" role="menuitem" @click="newFromSample">New from a sample…</button>
            <button type="button" role="menuitem" @click="open">Open… <kbd>Ctrl O</kbd></button>
            <button type="button" role="menuitem" @click="save">Save <kbd>Ctrl S</kbd></button>
            <button type="button" role="menuitem" @click="saveAs">Save as… <kbd>Ctrl ⇧ S</kbd></button>
            <button type="button" role="menuitem" v-if="path" @click="replaceDocument('file_reload')">Reload from disk</button>
          </div>
        </div>
        <p class="document" :title="own ? path || 'Not saved to a file yet' : null">
          <strong>{{ title }}</strong>
          <span class="soft" v-if="own"><span v-if="changed" class="dot" aria-hidden="true">●</span>{{ called }}{{ changed ? ', not saved' : '' }}</span>
        </p>
        <button type="button" v-if="edit" class="btn icon" :disabled="undo === null" :title="undo === null ? 'Nothing to take back' : 'Take back: ' + undo + ' (Ctrl Z)'"
          aria-label="Undo" @click="undoOrRedo('undo')"><svg viewBox="0 0 20 20" aria-hidden="true"><path d="M8 5 4 9l4 4M4.500 9H12a4 4 0 0 1 0 8h-2" /></svg></button>
        <button type="button" v-if="edit" class="btn icon" :disabled="redo === null" :title="redo === null ? 'Nothing to make again' : 'Make again: ' + redo + ' (Ctrl ⇧ Z)'"
          aria-label="Redo" @click="undoOrRedo('redo')"><svg viewBox="0 0 20 20" aria-hidden="true"><path d="m12 5 4 4-4 4M15.500 9H8a4 4 0 0 0 0 8h2" /></svg></button>
        <fieldset class="seg units"><legend class="sr">Lengths in</legend>
          <label v-for="unit in ['mm', 'in']" :key="unit"><input type="radio" name="units" :value="unit"
            :checked="unit === units" @change="$emit('units', unit)"><span>{{ unit }}</span></label>
        </fieldset>

        <tl-start :open="dialog === 'start'" :trouble="problem" @close="close" @make="makeFirst" @changed="problem = ''"></tl-start>

        <tl-dialog :open="dialog === 'new'" label="New from a sample" wide @close="close">
          <ul class="samples">
            <li v-for="sample in samples" :key="sample.name">
              <button type="button" class="sample" @click="replaceDocument('file_new', sample.name)">
                <img v-if="sample.picture" :src="sample.picture" alt="" width="240" height="135">
                <strong>{{ sample.title }}</strong><span class="soft">{{ sample.shows }}</span>
              </button>
            </li>
          </ul>
          <p class="problem" role="alert" v-if="problem">{{ problem }}</p>
          <div class="choices"><button type="button" class="btn" @click="close">Close</button></div>
        </tl-dialog>

        <tl-dialog :open="dialog === 'open'" label="Open a design" @close="close">
          <form class="by-name" @submit.prevent="replaceDocument('file_open', name)">
            <label for="open-name">Name or path of a design file</label>
            <span class="entry"><input id="open-name" class="text" type="text" v-model="name" autocomplete="off" spellcheck="false">
              <button class="btn main" type="submit" :disabled="!name.trim()">Open</button></span>
          </form>
          <p class="problem" role="alert" v-if="problem">{{ problem }}</p>
          <template v-if="places.recent.length"><h3>Opened lately</h3>
            <ul class="paths"><li v-for="path in places.recent" :key="path"><button type="button" class="btn quiet" @click="replaceDocument('file_open', path)">{{ path }}</button></li></ul></template>
          <h3>In {{ places.folder }}</h3>
          <ul class="paths"><li v-for="path in places.beside" :key="path"><button type="button" class="btn quiet" @click="replaceDocument('file_open', path)">{{ path }}</button></li></ul>
          <p class="soft" v-if="!places.beside.length">No designs are here yet.</p>
          <div class="choices"><button type="button" class="btn" @click="close">Close</button></div>
        </tl-dialog>

        <tl-dialog :open="dialog === 'as'" label="Save as" @close="close">
          <form class="by-name" @submit.prevent="saveNamed">
            <label for="save-name">Name of the file, in {{ places.folder }}</label>
            <span class="entry"><input id="save-name" ref="name" class="text" type="text" v-model="name" autocomplete="off" spellcheck="false" @input="over = false; problem = ''">
              <button class="btn main" type="submit" :disabled="!name.trim()">{{ over ? 'Write over it' : 'Save' }}</button></span>
          </form>
          <p class="problem" role="alert" v-if="problem">{{ problem }}</p>
          <div class="choices"><button type="button" class="btn" @click="close">Close</button></div>
        </tl-dialog>

        <tl-dialog :open="dialog === 'unsaved'" label="Not saved yet" @close="close">
          <p>{{ problem }}</p>
          <div class="row-buttons">
            <button type="button" class="btn main" @click="saveFirst">Save first</button>
            <button type="button" class="btn" @click="discardAndGoOn">Discard the changes</button>
            <button type="button" class="btn quiet" @click="close">Stay here</button>
          </div>
        </tl-dialog>

        <tl-dialog :open="dialog === 'disk'" label="Changed on disk" @close="close">
          <p>Another program has changed {{ called }} since it was opened here. Nothing has been overwritten.</p>
          <p class="problem" role="alert" v-if="problem">{{ problem }}</p>
          <div class="row-buttons">
            <button type="button" class="btn main" @click="replaceDocument('file_reload')">Reload it</button>
            <button type="button" class="btn" @click="saveAs">Save mine under another name</button>
            <button type="button" class="btn" @click="keepMine">Keep mine; saving will write over it</button>
          </div>
          <div class="choices"><button type="button" class="btn" @click="close">Close</button></div>
        </tl-dialog>

        <tl-dialog :open="dialog === 'lost'" label="Work that was not saved" @close="close">
          <p>Turnlight ended before these were saved.</p>
          <p class="problem" role="alert" v-if="problem">{{ problem }}</p>
          <ul class="paths"><li v-for="work in lost" :key="work.key" class="lost-one">
            <span><strong>{{ work.called }}</strong> <span class="soft">{{ moment(work.when) }}</span></span>
            <button type="button" class="btn main" @click="replaceDocument('file_recover', work.key)">Recover it</button>
            <button type="button" class="btn quiet" @click="trame.trigger('file_forget', [work.key])">Discard it</button>
          </li></ul>
          <div class="choices"><button type="button" class="btn" @click="close">Close</button></div>
        </tl-dialog>
      </div>`,
  };

  window.turnlight_files = {
    install(app) {
      app.component("tl-files", Files);
    },
  };
})();
