// Fields that hold others: lists, groups, parts to be added, and one of several.
(() => {
  const RowsField = {
    props: { field: Object, label: String },
    data: () => ({ id: window.turnlight_fields.fresh("rows"), dragged: null, over: null, aim: 0, spoken: "" }),
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
        window.turnlight_fields.underWay.add(this);
        await act();
        window.turnlight_fields.underWay.delete(this);
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
    props: { field: Object, label: String },
    data: () => ({ id: window.turnlight_fields.fresh("draft"), open: false, typed: {} }),
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
    props: { field: Object },
    data: () => ({ id: window.turnlight_fields.fresh("alternatives") }),
    template: `
      <div class="one-of" @mouseenter="explain">
        <fieldset class="choice">
          <legend class="sr">Given as</legend>
          <div class="seg">
            <label v-for="one in field.alternatives" :key="one.path">
              <input type="radio" :name="id" :checked="one.given" :data-alternative="one.path"
                @change="plainly('desk_use_alternative', one.path)"><span>{{ one.label }}</span>
            </label>
          </div>
        </fieldset>
        <p class="problem" role="alert" v-if="problem">{{ problem }}</p>
        <component :is="bench.component({ ...field, alternatives: null })" :key="field.path" :field="field" />
      </div>`,
  };

  window.turnlight_lists = {
    install(app) {
      // Scripts are loaded in any order: what fields have in common is there by now.
      const { changing } = window.turnlight_fields;
      app.component("tl-rows", { ...RowsField, mixins: [changing] });
      app.component("tl-group", { ...GroupField, mixins: [changing] });
      app.component("tl-draft", { ...DraftField, mixins: [changing] });
      app.component("tl-one-of", { ...OneOf, mixins: [changing] });
    },
  };
})();
