/* The wrap unrolled, beside the picture: what is laid round the blank, flat, with the lines of the
   template. It is drawn from the stage that is packed for browsers, so it follows every edit. */

"use strict";

(() => {
  const MARGIN = { left: 34, right: 14, top: 12, bottom: 26 }; // pixels round the sheet, for its ticks
  const ZOOMS = [1, 2, 4, 8];
  const MOST_PIXELS = 16e6; // of the canvas
  const KEY_STEP = 5; // degrees that an arrow key turns
  const DEGREES = 180 / Math.PI;

  const around = (degrees) => ((degrees % 360) + 360) % 360;

  const Unrolled = {
    inject: ["picture", "trame"],
    props: { units: String },
    emits: ["close"],
    data: () => ({ zoom: 1, lines: true, place: "", drawn: "", pens: [], problem: "" }),
    computed: {
      /* Angle of the rod that is turned to the camera, from the guide line, rad. */
      facing() {
        const { picture } = this;
        const framing = picture.stageTaken && picture.framing();
        if (!framing) return 0;
        const azimuth = framing.azimuth + picture.own.walk / DEGREES;
        const elevation = framing.elevation + picture.own.rise / DEGREES;
        const towards = Math.atan2(Math.cos(azimuth) * Math.cos(elevation), Math.sin(elevation));
        return towards - picture.turn / DEGREES;
      },
      degrees() {
        const turned = around(Math.round(this.facing * DEGREES));
        return turned > 180 ? turned - 360 : turned;
      },
      measure() {
        const { MM, INCHES } = window.turnlight_sheet;
        return this.units === "in" ? INCHES : MM;
      },
      /* What the sheet is drawn from. */
      source() {
        return `${this.picture.stageTaken} ${this.picture.own.dry}`;
      },
      waiting() {
        const { stage } = this.picture;
        return !this.drawn || this.picture.stageNumber < stage.wanted;
      },
    },
    watch: {
      source() {
        this.take();
      },
      facing() {
        this.show();
      },
      lines() {
        this.redraw();
      },
      measure() {
        this.redraw();
      },
      /* What was in the middle stays there. */
      zoom() {
        const { frame } = this.$refs;
        const middle = [
          (frame.scrollLeft + frame.clientWidth / 2) / frame.scrollWidth,
          (frame.scrollTop + frame.clientHeight / 2) / frame.scrollHeight,
        ];
        this.$nextTick(() => {
          this.redraw();
          frame.scrollLeft = middle[0] * frame.scrollWidth - frame.clientWidth / 2;
          frame.scrollTop = middle[1] * frame.scrollHeight - frame.clientHeight / 2;
        });
      },
    },
    mounted() {
      this.sheet = this.base = this.spot = null;
      this.sizes = new ResizeObserver(() => requestAnimationFrame(() => this.redraw()));
      this.sizes.observe(this.$refs.frame);
      this.scheme = window.matchMedia("(prefers-color-scheme: dark)");
      this.recolour = () => this.redraw();
      this.scheme.addEventListener("change", this.recolour);
      this.take();
    },
    unmounted() {
      this.sizes.disconnect();
      this.scheme.removeEventListener("change", this.recolour);
    },
    methods: {
      /* Draw the newest stage; another that comes meanwhile is drawn next. */
      async take() {
        const { picture } = this, { source } = this;
        if (this.taking || !picture.ownStage) return;
        const { data } = picture.ownStage, design = data.designs.B;
        const state = design.finished && (!picture.own.dry || !design.dry) ? "finished" : "dry";
        if (!design[state] || !design.pattern) return;
        this.taking = true;
        try {
          this.sheet = await window.turnlight_sheet.sheetOf(picture.parts, data, design, state);
          this.pens = [...new Set(this.sheet.pens.map((pen) => pen.shows))];
          this.problem = this.sheet.problem;
          this.redraw();
          this.drawn = source;
        } catch (fault) {
          // What is no longer to be had is followed by something newer.
          if (!fault.passing) throw fault;
        } finally {
          this.taking = false;
        }
        if (source !== this.source) this.take();
      },

      /* Draw colours, lines and ticks, and the turn on them. */
      redraw() {
        const { frame, canvas } = this.$refs;
        if (!frame || !this.sheet || frame.clientWidth < 60 || frame.clientHeight < 60) return;
        const { sizing, placing, drawColours, drawLines, drawMarks, drawAxes } = window.turnlight_sheet;
        const sized = sizing(this.sheet, frame.clientWidth, frame.clientHeight, MARGIN, this.zoom);
        const [width, height] = sized.size;
        const ratio = Math.min(window.devicePixelRatio || 1, 2, Math.sqrt(MOST_PIXELS / (width * height)));
        canvas.style.width = `${width}px`;
        canvas.style.height = `${height}px`;
        this.base = new OffscreenCanvas(Math.round(width * ratio), Math.round(height * ratio));
        const context = this.base.getContext("2d");
        context.scale(ratio, ratio);
        this.ratio = ratio;
        this.spot = placing(this.sheet, sized, MARGIN);
        const ink = getComputedStyle(frame).color;
        drawColours(context, this.sheet, this.spot);
        if (this.lines) {
          drawLines(context, this.sheet, this.spot);
          drawMarks(context, this.sheet, this.spot);
        }
        drawAxes(context, this.sheet, this.spot, this.measure, ink);
        this.show();
      },

      show() {
        if (this.showing || !this.base) return;
        this.showing = requestAnimationFrame(() => {
          this.showing = 0;
          const { canvas } = this.$refs;
          if (!canvas) return;
          [canvas.width, canvas.height] = [this.base.width, this.base.height];
          const context = canvas.getContext("2d");
          context.drawImage(this.base, 0, 0);
          context.scale(this.ratio, this.ratio);
          window.turnlight_sheet.drawTurn(context, this.sheet, this.spot, this.facing, "#ffb061");
        });
      },

      /* Angle and distance under a pointer; null beside the sheet. */
      under(event) {
        if (!this.spot) return null;
        const box = this.$refs.canvas.getBoundingClientRect();
        const [angle, z] = this.spot.back(event.clientX - box.left, event.clientY - box.top);
        const { from, to } = this.sheet;
        return Math.abs(angle) <= Math.PI && z >= from && z <= to ? [angle, z] : null;
      },

      look(event) {
        const at = this.under(event);
        if (!at) {
          this.place = "";
          return;
        }
        const { unit, name } = this.measure;
        const digits = unit === 1 ? 1 : 2;
        const round = (at[0] * window.turnlight_sheet.radiusAt(this.sheet, at[1])) / unit;
        this.place = `${(at[1] / unit).toFixed(digits)} ${name} from the butt, ${round.toFixed(digits)} ${name} round from the guide line`;
        if (event.buttons & 1 && this.$refs.canvas.hasPointerCapture(event.pointerId)) this.face(at[0], true);
      },

      press(event) {
        const at = this.under(event);
        if (event.button || !at) return;
        this.$refs.canvas.setPointerCapture(event.pointerId);
        this.face(at[0], true);
      },

      release() {
        this.picture.turnTo(this.picture.turn, { quantised: false });
      },

      /* Turn an angle of the rod to the camera. */
      face(angle, moving) {
        this.picture.stop();
        const turn = this.picture.turn + (this.facing - angle) * DEGREES;
        this.picture.turnTo(turn, { moving, quantised: false });
      },

      key(event) {
        const steps = { ArrowLeft: -1, ArrowUp: -1, ArrowRight: 1, ArrowDown: 1, PageUp: -9, PageDown: 9 };
        if (event.key === "Home") this.face(0, false);
        else if (event.key in steps) this.face(this.facing + (steps[event.key] * KEY_STEP) / DEGREES, false);
        else return;
        event.preventDefault();
      },

      zoomBy(step) {
        const at = ZOOMS.indexOf(this.zoom) + step;
        this.zoom = ZOOMS[Math.min(ZOOMS.length - 1, Math.max(0, at))];
      },
    },
    template: `
      <section class="unrolled" aria-label="The wrap unrolled" :data-drawn="drawn" data-test="unrolled">
        <header>
          <h2>The wrap unrolled</h2>
          <p class="note" aria-hidden="true">{{ place || (waiting ? "being drawn …" : "A click turns the rod there.") }}</p>
          <label class="check"><input type="checkbox" v-model="lines" data-test="unrolled-lines" /> Lines</label>
          <button type="button" class="btn icon" aria-label="Unrolled smaller" @click="zoomBy(-1)">−</button>
          <button type="button" class="btn icon" aria-label="Unrolled larger" @click="zoomBy(1)">+</button>
          <button type="button" class="btn quiet icon" aria-label="Close the wrap unrolled" @click="$emit('close')">×</button>
        </header>
        <div class="sheet" ref="frame" :class="{ large: zoom > 1 }">
          <canvas ref="canvas" tabindex="0" role="slider" aria-label="Side of the wrap that is looked at"
            aria-valuemin="-180" aria-valuemax="180" :aria-valuenow="degrees"
            :aria-valuetext="degrees + '° round from the guide line'" data-test="sheet"
            @pointerdown="press" @pointermove="look" @pointerup="release" @pointerleave="place = ''" @keydown="key"></canvas>
        </div>
        <p v-if="problem" class="warning">No lines: {{ problem }}</p>
        <p v-else class="note legend">Ticks: {{ measure.name }} from the butt, and round from the guide line. The long edges meet
          at the back.<template v-if="lines && pens.length"> Lines: guide line; {{ pens.join("; ") }}.</template></p>
      </section>`,
  };

  window.turnlight_unrolled = {
    install(app) {
      app.component("tl-unrolled", Unrolled);
    },
  };
})();
