// A chart from a picture: turned, mirrored, in threads of the shelf; then brought to the design.
(() => {
  const PICTURES = ".png,.jpg,.jpeg,.webp";
  const FIRST = { columns: "40", rows: "", turns: 0, mirror: false, upright: false, count: "4" };

  const Chart = {
    inject: ["trame", "bench"],
    props: { field: Object, bring: Function },
    data: () => ({ open: false, file: null, asked: { ...FIRST }, names: [], size: "", words: "", made: null, problem: "", busy: false, again: false, pictures: PICTURES }),
    computed: {
      listed() {
        const words = this.words.toLocaleLowerCase().split(/\s+/).filter(Boolean);
        const text = (thread) => `${thread.name} ${thread.kind}`.toLocaleLowerCase();
        return this.bench.threads.filter(
          (thread) => this.names.includes(thread.name)
            || ((!this.size || thread.size === this.size) && words.every((word) => text(thread).includes(word))),
        );
      },
    },
    methods: {
      /** Size of the warp's thread, in which threads are offered. */
      sizeOfWarp() {
        const layer = this.field.path.slice(0, this.field.path.lastIndexOf("."));
        const warp = document.querySelector(`[data-path="${layer}.warp"] .thread`);
        const thread = warp && this.bench.threads.find((one) => one.name === warp.textContent.trim());
        return thread ? thread.size : "";
      },
      chosen(event) {
        const [file] = event.target.files;
        event.target.value = "";
        if (!file) return;
        this.file = file;
        this.asked = { ...FIRST };
        this.names = [];
        this.size = this.sizeOfWarp();
        this.made = null;
        this.problem = "";
        this.open = true;
        this.make();
      },
      close() {
        this.open = false;
        this.file = this.made = null;
      },
      turn() {
        this.asked.turns = (this.asked.turns + 1) % 4;
        this.make();
      },
      /** Make the chart as it is asked now; a change meanwhile makes it once more. */
      async make() {
        this.again = true;
        if (this.busy) return;
        this.busy = true;
        window.turnlight_fields.underWay.add(this);
        while (this.again && this.file) {
          this.again = false;
          const { columns, rows, turns, mirror, upright, count } = this.asked;
          const query = new URLSearchParams({
            name: this.file.name, columns, rows, turns, mirror: mirror ? 1 : 0, upright: upright ? 1 : 0,
            count: this.names.length ? Math.min(this.names.length, 12) : count, threads: this.names.join("\n"), size: this.size,
          });
          try {
            const response = await window.turnlight_fetch(`chart?${query}`, { method: "POST", body: this.file });
            const answer = await response.json();
            this.problem = answer.problem;
            if (!answer.problem) this.made = answer;
          } catch {
            this.problem = "The picture could not be sent; try again.";
          }
        }
        window.turnlight_fields.underWay.delete(this);
        this.busy = false;
      },
      async use() {
        const bytes = Uint8Array.from(atob(this.made.picture.split(",")[1]), (letter) => letter.charCodeAt(0));
        const name = `${this.file.name.replace(/\.[^.]*$/, "")}-chart.png`;
        this.problem = await this.bring(new File([bytes], name, { type: "image/png" }));
        if (!this.problem) this.close();
      },
    },
    template: `
      <label class="btn" :class="{ off: !bench.saved }">
        <input type="file" class="sr" :accept="pictures" :disabled="!bench.saved" @change="chosen" data-test="chart-picture">From a picture…</label>
      <tl-dialog :open="open" label="A chart from a picture" wide @close="close">
        <div class="chart-making" @change="make">
          <div class="chart-seen">
            <img v-if="made" :src="made.picture" alt="The chart" data-test="chart">
            <p class="soft" v-if="made">{{ made.columns }} columns, {{ made.rows }} rows</p>
            <ul class="chart-threads" v-if="made"><li v-for="thread in made.threads" :key="thread.name">
              <span class="swatch" :style="{ '--colour': thread.colour }"></span> {{ thread.name }}</li></ul>
          </div>
          <div class="chart-asked">
            <div class="row-buttons">
              <button type="button" class="btn" @click="turn">Turn it</button>
              <label class="check"><input type="checkbox" v-model="asked.mirror"> Mirror left for right</label>
              <label class="check"><input type="checkbox" v-model="asked.upright"> Upside down</label>
            </div>
            <label class="field-head">Warp threads across <input class="num" type="text" inputmode="numeric" v-model="asked.columns"></label>
            <label class="field-head">Rows up, empty for the shape of the picture <input class="num" type="text" inputmode="numeric" v-model="asked.rows" :placeholder="made ? String(made.rows) : ''"></label>
            <label class="field-head" v-if="!names.length">Threads at most <input class="num" type="text" inputmode="numeric" v-model="asked.count"></label>
            <details class="more"><summary>Only threads that I choose{{ names.length ? ': ' + names.length : '' }}</summary>
              <input type="search" class="text" v-model="words" @change.stop aria-label="Search the shelf" placeholder="name or kind">
              <ul class="shelf tall" aria-label="Threads for the chart"><li v-for="thread in listed" :key="thread.name">
                <label class="check"><input type="checkbox" :value="thread.name" v-model="names">
                  <span class="swatch" :class="thread.kind.replace(' ', '-')" :style="{ '--colour': thread.colour }"></span> {{ thread.name }}</label></li></ul>
            </details>
          </div>
        </div>
        <p class="problem" role="alert" v-if="problem">{{ problem }}</p>
        <div class="choices">
          <button type="button" class="btn main" :disabled="!made || busy || Boolean(problem)" data-test="chart-use" @click="use">Use it</button>
          <button type="button" class="btn" @click="close">Leave it</button>
        </div>
      </tl-dialog>`,
  };

  window.turnlight_charts = {
    install(app) {
      app.component("tl-chart", Chart);
    },
  };
})();
