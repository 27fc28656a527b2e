// A list of runs of thread drawn as the strip that they are: in colour, order and width.
//
// A run is dragged to another place, or moved with the arrow keys; the list below it has its fields.
(() => {
  const MOST_LINES = 40; // threads of a run that are drawn apart

  const ThreadStrip = {
    inject: ["bench"],
    props: { rows: Array, movable: Boolean },
    emits: ["move", "step", "chosen"],
    data: () => ({ dragged: null, over: null }),
    computed: {
      runs() {
        const runs = this.rows.map((row, place) => {
          const name = row.fields.find((field) => field.type === "thread").value;
          const count = Number(row.fields.find((field) => field.type === "whole").value) || 1;
          const thread = this.bench.threads.find((one) => one.name === name);
          const width = count * (thread ? thread.diameter : 0.2);
          return { place, name, count, width, colour: thread ? thread.colour : "transparent", kind: thread ? thread.kind : "" };
        });
        if (this.dragged !== null) runs.splice(this.over, 0, ...runs.splice(this.dragged, 1));
        return runs;
      },
    },
    methods: {
      style({ width, colour, count }) {
        return { flexGrow: width, "--colour": colour, "--thread": `calc(100% / ${Math.min(count, MOST_LINES)})` };
      },
      label({ place, name, count }) {
        const what = `${count} ${count === 1 ? "thread" : "threads"} of ${name}, ${place + 1} of ${this.rows.length}`;
        return this.movable ? `Move ${what}, with the left and right arrow keys` : what;
      },
      lift(event, place) {
        if (event.button || !this.movable) return;
        this.dragged = this.over = place;
        this.$el.setPointerCapture(event.pointerId);
      },
      carry(event) {
        if (this.dragged === null) return;
        const at = [...this.$el.children].findIndex((run) => event.clientX < run.getBoundingClientRect().right);
        this.over = at < 0 ? this.rows.length - 1 : at;
      },
      drop() {
        const [from, to] = [this.dragged, this.over];
        this.dragged = this.over = null;
        if (from === null) return;
        if (from === to) this.$emit("chosen", from);
        else this.$emit("move", from, to);
      },
    },
    template: `
      <div class="thread-strip" role="group" aria-label="The threads side by side" :class="{ dragging: dragged !== null }"
          @pointermove="carry" @pointerup="drop" @pointercancel="dragged = over = null">
        <button type="button" class="run" v-for="run in runs" :key="run.place" :class="[run.kind.replace(' ', '-'), { lifted: run.place === dragged }]"
          :style="style(run)" :aria-label="label(run)" :title="run.count + ' × ' + run.name" @pointerdown="lift($event, run.place)"
          @keydown.left.prevent="$emit('step', run.place, -1)" @keydown.right.prevent="$emit('step', run.place, 1)"
          @keydown.enter.prevent="$emit('chosen', run.place)"></button>
      </div>`,
  };

  window.turnlight_thread_strip = {
    install(app) {
      app.component("tl-thread-strip", ThreadStrip);
    },
  };
})();
