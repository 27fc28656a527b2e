// The drawing of the blank: the wrap and the measured stations, which can be dragged.
(() => {
  const WIDE = 348, TALL = 116, EDGE = 14, MIDDLE = 52, HALF = 30;

  /** The measured blank from the side; its diameter has a larger scale than its length. */
  const Profile = {
    inject: ["trame", "bench"],
    props: { profile: Object },
    data: () => ({ held: null, from: null, gesture: "", burst: 0, problem: "", waiting: null, busy: false, aim: {} }),
    computed: {
      thickest() {
        const fitted = this.profile.fitted.map((fitting) => fitting.diameter);
        return Math.max(...this.profile.outline.map((point) => point[1]), ...fitted);
      },
      body() {
        const upper = this.profile.outline.map(([z, d]) => `${this.x(z)},${MIDDLE - this.y(d)}`);
        const lower = this.profile.outline.map(([z, d]) => `${this.x(z)},${MIDDLE + this.y(d)}`);
        return [...upper, ...lower.reverse()].join(" ");
      },
      wrap() {
        return this.band(this.profile.from, this.profile.to);
      },
      wound() {
        return this.band(...this.profile.wound);
      },
      handles() {
        const { from, to } = this.profile;
        const ends = [
          { key: "from", label: "Wrap starts", at: from },
          { key: "to", label: "Wrap ends", at: to },
        ];
        return ends.map((end) => ({ ...end, x: this.x(end.at) }));
      },
    },
    methods: {
      x(z) {
        const { first, last } = this.profile;
        return EDGE + ((z - first) / (last - first)) * (WIDE - 2 * EDGE);
      },
      y(d) {
        return (d / this.thickest) * HALF;
      },
      band(from, to) {
        const inside = this.profile.outline.filter(([z]) => z > from && z < to);
        const points = [[from, this.at(from)], ...inside, [to, this.at(to)]];
        const upper = points.map(([z, d]) => `${this.x(z)},${MIDDLE - this.y(d) - 2}`);
        const lower = points.map(([z, d]) => `${this.x(z)},${MIDDLE + this.y(d) + 2}`);
        return [...upper, ...lower.reverse()].join(" ");
      },
      at(z) {
        const line = this.profile.outline;
        const next = Math.max(line.findIndex((point) => point[0] >= z), 1);
        const [before, after] = [line[next - 1], line[next] || line[line.length - 1]];
        const part = (z - before[0]) / (after[0] - before[0] || 1);
        return before[1] + part * (after[1] - before[1]);
      },
      along(event) {
        const box = this.$refs.drawing.getBoundingClientRect();
        const { first, last } = this.profile;
        const x = ((event.clientX - box.left) / box.width) * WIDE;
        return first + ((x - EDGE) / (WIDE - 2 * EDGE)) * (last - first);
      },
      round(z) {
        return Number((Math.round(z / this.profile.step) * this.profile.step).toPrecision(9));
      },
      hold(event, what) {
        if (event.button || !this.bench.edit) return;
        const { from, to } = this.profile;
        this.held = what;
        this.from = { z: this.along(event), from, to };
        this.gesture = `profile#${Date.now()}`;
        event.target.closest("[tabindex]").setPointerCapture(event.pointerId);
        event.target.closest("[tabindex]").focus();
      },
      drag(event) {
        if (!this.held) return;
        const by = this.along(event) - this.from.z;
        this.place(this.held, this.round(this.from.from + by), this.round(this.from.to + by));
      },
      place(what, from, to) {
        const changes = {};
        if (what !== "to") changes["placement.from"] = from;
        if (what !== "from") changes["placement.to"] = to;
        this.change(changes);
      },
      release() {
        if (!this.held) return;
        this.held = null;
        window.turnlight_fields.request(this.trame, "desk_settle");
      },
      key(event, what) {
        const by = { ArrowLeft: -1, ArrowRight: 1, PageDown: -10, PageUp: 10 }[event.key];
        if (!by || !this.bench.edit) return;
        event.preventDefault();
        const step = by * this.profile.step * (event.shiftKey ? 10 : 1);
        this.keys();
        this.place(what, this.round(this.now("placement.from") + step), this.round(this.now("placement.to") + step));
      },
      /** A number after the requests under way, because keys may be faster than answers. */
      now(path) {
        if (this.busy && path in this.aim) return this.aim[path];
        const [list, at, key] = path.split(".").slice(-3);
        if (list === "stations") return this.profile.stations[at][key];
        return path === "placement.from" ? this.profile.from : this.profile.to;
      },
      stationKey(event, station) {
        const along = { ArrowLeft: -1, ArrowRight: 1 }[event.key];
        const across = { ArrowUp: 1, ArrowDown: -1 }[event.key];
        if ((!along && !across) || !this.bench.edit) return;
        event.preventDefault();
        this.keys();
        const path = `${station.path}.${along ? "at" : "diameter"}`;
        const by = along ? along * this.profile.step : across * this.profile.fine;
        this.change({ [path]: Number((this.now(path) + by).toPrecision(7)) });
      },
      pull(event, station) {
        if (event.button || !this.bench.edit) return;
        this.gesture = `profile#${Date.now()}`;
        this.held = { station, start: event.clientY, z: this.along(event) };
        event.target.closest("[tabindex]").setPointerCapture(event.pointerId);
        event.target.closest("[tabindex]").focus();
      },
      pulled(event) {
        const held = this.held;
        if (!held || !held.station) return;
        const at = this.round(held.station.at + this.along(event) - held.z);
        this.change({ [`${held.station.path}.at`]: at });
      },
      keys() {
        const now = Date.now();
        if (now - this.burst > 1200) this.gesture = `profile#${now}`;
        this.burst = now;
      },
      async change(changes) {
        this.waiting = { ...this.waiting, ...changes };
        this.aim = { ...this.aim, ...changes };
        if (this.busy) return;
        this.busy = true;
        window.turnlight_fields.underWay.add(this);
        while (this.waiting) {
          const next = this.waiting;
          this.waiting = null;
          const answer = await window.turnlight_fields.request(this.trame, "desk_changes", [next, this.gesture]);
          this.problem = answer.problem;
          if (answer.problem) this.aim = {};
        }
        this.busy = false;
        this.aim = {};
        window.turnlight_fields.underWay.delete(this);
      },
      async workAt(name) {
        if (!this.bench.edit) return;
        await window.turnlight_fields.idle();
        const answer = await window.turnlight_fields.request(this.trame, "wrap_work_at", [name]);
        this.problem = answer.problem;
      },
      explain(text) {
        this.bench.help = text;
      },
    },
    template: `
      <figure class="profile" aria-label="The blank from the side">
        <svg ref="drawing" viewBox="0 0 ${WIDE} ${TALL}" role="group" aria-label="Wrap and stations on the blank">
          <line class="axis" x1="${EDGE}" x2="${WIDE - EDGE}" y1="${MIDDLE}" y2="${MIDDLE}" />
          <template v-for="fitting in profile.fitted" :key="fitting.path">
            <rect v-if="fitting.kind === 'grip'" class="grip" :x="x(fitting.from)" :width="Math.max(x(fitting.to) - x(fitting.from), 1)"
              :y="${MIDDLE} - y(fitting.diameter)" :height="2 * y(fitting.diameter)" rx="3" />
            <path v-else class="guide" :d="'M' + x(fitting.from) + ',' + (${MIDDLE} - y(at(fitting.from))) + ' L' + (x(fitting.from) + x(fitting.to)) / 2 + ',12 L' + x(fitting.to) + ',' + (${MIDDLE} - y(at(fitting.to)))" />
          </template>
          <polygon class="blank" :points="body" />
          <g v-for="other in profile.others" :key="other.name" class="other" role="button" :tabindex="bench.edit ? 0 : -1"
            :aria-label="'Work at ' + other.name" @click="workAt(other.name)" @keydown.enter.prevent="workAt(other.name)"
            @keydown.space.prevent="workAt(other.name)" @focus="explain(other.name + ': press to work at it.')">
            <title>{{ other.name }}</title>
            <polygon :points="band(...other.wound)" />
          </g>
          <polygon class="wound" :points="wound" />
          <g class="wrap" tabindex="0" role="slider" aria-label="Place of the wrap" :aria-valuenow="profile.from"
            :aria-valuemin="profile.first" :aria-valuemax="profile.last"
            :aria-valuetext="'from ' + profile.from + ' to ' + profile.to + ' ' + profile.unit"
            @pointerdown="hold($event, 'both')" @pointermove="drag" @pointerup="release" @pointercancel="release"
            @keydown="key($event, 'both')" @focus="explain('The wrap: drag it along the blank, or use the arrow keys.')">
            <polygon :points="wrap" />
          </g>
          <g v-for="handle in handles" :key="handle.key" class="end" tabindex="0" role="slider" :aria-label="handle.label"
            :aria-valuenow="handle.at" :aria-valuemin="profile.first" :aria-valuemax="profile.last"
            :aria-valuetext="handle.at + ' ' + profile.unit" :data-end="handle.key"
            @pointerdown.stop="hold($event, handle.key)" @pointermove="drag" @pointerup="release" @pointercancel="release"
            @keydown="key($event, handle.key)" @focus="explain(handle.label + ': drag it, or use the arrow keys.')">
            <rect class="reach" :x="handle.x - 11" y="14" width="22" height="76" />
            <line :x1="handle.x" :x2="handle.x" y1="17" y2="87" />
            <text :x="handle.x" y="11" :text-anchor="handle.key === 'from' ? 'end' : 'start'">{{ handle.at }}</text>
          </g>
          <g v-for="station in profile.stations" :key="station.path" class="station" tabindex="0" role="slider"
            :aria-label="'Station at ' + station.at + ' ' + profile.unit" :aria-valuenow="station.diameter"
            aria-valuemin="0" :aria-valuetext="station.diameter + ' ' + profile.unit + ' thick'"
            @pointerdown.stop="pull($event, station)" @pointermove="pulled" @pointerup="release" @pointercancel="release"
            @keydown="stationKey($event, station)"
            @focus="explain('A station: left and right move it along the blank, up and down change the diameter measured there.')">
            <rect class="reach" :x="x(station.at) - 10" y="88" width="20" height="26" />
            <line :x1="x(station.at)" :x2="x(station.at)" :y1="${MIDDLE} + y(station.diameter)" y2="96" />
            <circle :cx="x(station.at)" cy="98" r="4" />
            <text :x="x(station.at)" y="113" text-anchor="middle">{{ station.diameter }}</text>
          </g>
        </svg>
        <p class="problem" role="alert" v-if="problem">{{ problem }}</p>
      </figure>`,
  };

  window.turnlight_profile = {
    install(app) {
      app.component("tl-profile", Profile);
    },
  };
})();
