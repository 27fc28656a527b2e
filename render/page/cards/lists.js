// Fields that contain fields: lists, groups, drafts of parts, and alternatives.
(() => {
  const RowsField = {
    props: { field: Object, label: String },
    data: () => ({ id: window.turnlight_fields.uniqueId("rows"), dragged: null, over: null, aim: 0, spoken: "" }),
    computed: {
      movable() {
        return this.field.ordered && this.field.rows.length > 1;
      },
      /** Whether its rows are runs of thread side by side. */
      strip() {
        const isRun = ({ fields }) => ["thread", "whole"].every((type) => fields.some((field) => field.type === type));
        return this.field.ordered && this.field.rows.length > 0 && this.field.rows.every((row) => !this.tall(row) && isRun(row));
      },
      order() {
        const rows = this.field.rows.map((row, place) => ({ row, place }));
        if (this.dragged !== null && this.over !== null) {
          const [moved] = rows.splice(this.dragged, 1);
          rows.splice(this.over, 0, moved);
        }
        return rows;
      },
    },
    methods: {
      /** A row with many fields shows them below each other. */
      tall(row) {
        return Boolean(row.kind) || row.fields.length > 2;
      },
      /** Label of a field; in a row of few fields the first one identifies the row. */
      named(row, field) {
        const first = row.fields[0];
        return this.tall(row) || field === first ? field.label : `${field.label}, ${this.rowName(row)}`;
      },
      rowName(row) {
        const first = row.fields[0];
        return String(first.value ?? first.text ?? row.kind);
      },
      /** Move a row by keys. While a move is under way the next starts from its target. */
      async step(place, by, handle = ".handle") {
        if (this.dragged !== null) return;
        const to = (this.busy ? this.aim : place) + by;
        if (to < 0 || to >= this.field.rows.length) return;
        this.aim = to;
        if (!this.busy) this.refocus(handle, await this.move(place));
      },
      /** Move a row to `aim`, again if that changes meanwhile; return its final index. */
      async move(at) {
        const name = this.rowName(this.field.rows[at]);
        await this.whileBusy(async () => {
          while (at !== this.aim && !this.problem) {
            const to = this.aim;
            await this.editAndWait("desk_move", `${this.field.path}.${at}`, to);
            if (!this.problem) at = to;
          }
        });
        if (!this.problem) this.spoken = `${name} is ${at + 1} of ${this.field.rows.length}.`;
        return at;
      },
      /** Make an edit that moves rows; other moves are ignored until the page shows it. */
      async whileBusy(act) {
        this.busy = true;
        this.problem = "";
        window.turnlight_fields.underWay.add(this);
        await act();
        window.turnlight_fields.underWay.delete(this);
        this.busy = false;
      },
      /** Keep the focus on the moved row, unless it is outside of the list now. */
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
      moveRun(from, to) {
        if (this.busy) return;
        this.aim = to;
        this.move(from);
      },
      /** Go on with the thread of a run in the list. */
      choose(place) {
        this.$el.querySelectorAll(".rows > .row")[place].querySelector(".thread").focus();
      },
      async add(kind = "") {
        await this.editAndWait("desk_add", this.field.path, kind);
        if (this.problem) return;
        const added = [...this.$el.querySelectorAll(".rows > .row")].pop();
        added?.querySelector("input:not([type=color]), button.thread")?.focus();
      },
      async remove(row, place) {
        if (this.busy) return;
        await this.whileBusy(() => this.editAndWait("desk_remove", row.path));
        if (!this.problem) this.refocus(".remove", place);
      },
    },
    template: `
      <div class="field wide" :class="{ wrong: problem }" :data-path="field.path"
          @mouseenter="explain" @focusin="explain">
        <p class="rows-name" :id="id">{{ label || field.label }}</p>
        <tl-thread-strip v-if="strip" :rows="field.rows" :movable="movable" @move="moveRun" @chosen="choose"
          @step="(place, by) => step(place, by, '.run')" />
        <p class="columns" aria-hidden="true" v-if="field.columns.length === 2 && field.rows.length" :class="{ movable }">
          <span v-for="(column, place) in field.columns" :key="column.label" :class="'of-' + field.rows[0].fields[place].type">{{ column.label }}</span></p>
        <ul class="rows" :class="{ dragging: dragged !== null }" :aria-labelledby="id">
          <li class="row" v-for="{ row, place } in order" :key="place"
              :class="{ lifted: place === dragged, tall: tall(row) }" :data-path="row.path">
            <button type="button" class="handle" v-if="movable"
              :aria-label="'Move ' + rowName(row) + ', ' + (place + 1) + ' of ' + field.rows.length + ', with the arrow keys'"
              title="Drag, or use the arrow keys" @pointerdown="lift($event, place)" @pointermove="carry"
              @pointerup="drop" @pointercancel="dragged = over = null"
              @keydown.up.prevent="step(place, -1)"
              @keydown.down.prevent="step(place, 1)"><span aria-hidden="true">⠿</span></button>
            <span class="row-kind" v-if="tall(row)">{{ row.kind || place + 1 }}</span>
            <component :is="bench.component(child)" v-for="child in row.fields" :key="child.path" :field="child"
              :label="named(row, child)" :compact="!tall(row)" :terse="tall(row)" />
            <button type="button" class="btn icon remove" :aria-label="'Remove ' + rowName(row)" title="Remove"
              @click="remove(row, place)"><span aria-hidden="true">×</span></button>
            <tl-notes :path="row.path" />
            <template v-if="!tall(row)"><tl-notes v-for="child in row.fields.filter((one) => one.type !== 'choice')" :key="child.path" :path="child.path" /></template>
          </li>
        </ul>
        <p class="sr" aria-live="polite">{{ spoken }}</p>
        <p class="problem" role="alert" v-if="problem">{{ problem }}</p>
        <tl-notes :path="field.path" />
        <div class="row-buttons">
          <template v-if="field.kinds.length">
            <button type="button" class="btn quiet add" v-for="kind in field.kinds" :key="kind"
              @click="add(kind)">Add a {{ kind }}</button>
          </template>
          <button type="button" class="btn quiet add" v-else @click="add()">Add {{ field.one }}</button>
        </div>
        <tl-guide-list v-if="field.guide_list" :list="field.guide_list" />
      </div>`,
  };

  const GroupField = {
    props: { field: Object, label: String },
    template: `
      <fieldset class="group" :data-path="field.path">
        <legend>{{ label || field.label }}</legend>
        <component :is="bench.component(child)" v-for="child in field.fields" :key="child.path" :field="child" />
        <tl-notes :path="field.path" />
        <p class="problem" role="alert" v-if="problem">{{ problem }}</p>
        <div class="row-buttons" v-if="field.optional">
          <button type="button" class="btn quiet" @click="editAndWait('desk_clear', field.path)">Leave it out</button>
        </div>
      </fieldset>`,
  };

  /** A part that the design does not have yet; it is made when all of its fields are given. */
  const DraftField = {
    props: { field: Object, label: String },
    data: () => ({ id: window.turnlight_fields.uniqueId("draft"), open: false, typed: {} }),
    methods: {
      async give() {
        const changes = {};
        for (const child of this.field.fields) changes[child.path] = this.typed[child.path] || "";
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
          <div class="field-head" v-for="child in field.fields" :key="child.path">
            <label :for="id + child.path">{{ child.label }}</label>
            <span class="entry"><input class="num" type="text" inputmode="decimal" autocomplete="off" :id="id + child.path" :title="child.help" v-model="typed[child.path]"><span class="unit">{{ child.unit }}</span></span>
          </div>
          <p class="problem" role="alert" v-if="problem">{{ problem }}</p>
          <div class="row-buttons"><button type="submit" class="btn">Take it into the design</button></div>
        </form>
      </div>`,
  };

  /** Alternative fields, of which a layer has exactly one: the choice, and the given field. */
  const OneOf = {
    props: { field: Object },
    data: () => ({ id: window.turnlight_fields.uniqueId("alternatives") }),
    template: `
      <div class="one-of" @mouseenter="explain">
        <fieldset class="choice">
          <legend class="sr">Given as</legend>
          <div class="seg">
            <label v-for="alternative in field.alternatives" :key="alternative.path">
              <input type="radio" :name="id" :checked="alternative.given" :data-alternative="alternative.path"
                @change="editAndWait('desk_use_alternative', alternative.path)"><span>{{ alternative.label }}</span>
            </label>
          </div>
        </fieldset>
        <p class="problem" role="alert" v-if="problem">{{ problem }}</p>
        <component :is="bench.component({ ...field, alternatives: null })" :key="field.path" :field="field" />
      </div>`,
  };

  window.turnlight_lists = {
    install(app) {
      // Scripts are loaded in any order: the mixin is defined by now.
      const { changing } = window.turnlight_fields;
      app.component("tl-rows", { ...RowsField, mixins: [changing] });
      app.component("tl-group", { ...GroupField, mixins: [changing] });
      app.component("tl-draft", { ...DraftField, mixins: [changing] });
      app.component("tl-one-of", { ...OneOf, mixins: [changing] });
    },
  };
})();
