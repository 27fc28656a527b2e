/* The picture: drawn by this browser, or frames from the render worker, shown for the present turn. */

"use strict";

(() => {
  const BUDGET = 320e6; // bytes of decoded pictures that fit in the memory of a tablet
  const SPIN_SECONDS = 10; // one turn, slow enough to follow a facet through its flash
  const SETTLE = 260; // ms after the last key or wheel event until a fine picture is requested
  const REACH = 1200; // ms after a pointer moved over a slider in which it may be pressed
  const HOLD = 4000; // ms after which the hold of a slider is reported again
  const REACHING = ["pointerdown", "pointermove", "pointerup", "pointercancel"];

  const around = (degrees) => ((degrees % 360) + 360) % 360;

  const picture = {
    inject: ["trame"],
    props: {
      look: Object,
      epoch: Number,
      designTurn: Number,
      scale: Object,
      filling: Object,
      lights: Array,
      grounds: Array,
      views: Array,
      mode: String,
      places: Number,
      trouble: String,
      labels: Object,
      pending: Array,
      edit: Boolean,
      units: String,
      tried: String,
    },
    provide() {
      return { picture: this };
    },
    data() {
      return {
        turn: around(this.designTurn || 0),
        spinning: false,
        dragging: false,
        first: true,
        have: 0,
        fine: 0,
        swipe: 0.5,
        shownGrade: "",
      };
    },
    computed: {
      step() {
        return 360 / this.places;
      },
      turnText() {
        return `${Math.round(this.turn * 10) / 10}°`;
      },
      sides() {
        return this.mode === "one" ? ["B"] : ["A", "B"];
      },
    },
    watch: {
      designTurn(turn) {
        this.stop();
        this.turnTo(turn, { quantised: false });
      },
      mode() {
        this.first = true;
        this.sendSize();
      },
      swipe() {
        this.paint();
      },
    },
    created() {
      // Pictures are many and large: they must not become reactive.
      this.rings = {};
      this.loose = {};
      this.shown = {};
      this.ringEpoch = 0;
      this.pointers = new Map();
      this.gripped = this.heldBack = false;
      this.turns = new window.turnlight_ring.LatestSender((turn) => this.ask("pic_turn", turn));
      this.looks = new window.turnlight_ring.LatestSender((look) => this.ask("pic_look", look));
      this.pendingLook = {};
      this.stats = { painted: 0, shown: null, arrived: null, log: [] };
      // For measurements and tests of the page.
      this.stats.kept = () =>
        this.ring("B").frames.flatMap((frame, slot) => (frame && window.turnlight_ring.grade(frame) ? [slot] : []));
      this.stats.sides = () =>
        Object.fromEntries(
          Object.entries(this.shown).map(([side, { epoch, turn, grade: drawn }]) => [
            side,
            { epoch, turn, grade: drawn },
          ]),
        );
      window.turnlight = this.stats;
    },
    mounted() {
      const session = this.trame.client.getConnection().getSession();
      this.session = session;
      this.subscription = session.subscribe("turnlight.frame", ([frame]) => this.arrive(frame));
      this.sizes = new ResizeObserver(() => {
        this.ownShow();
        clearTimeout(this.sizeTimer);
        this.sizeTimer = setTimeout(() => this.sendSize(), this.size ? 150 : 0);
        this.paint();
      });
      this.sizes.observe(this.$refs.place);
      this.seen = () =>
        document.visibilityState === "visible" ? this.sendSize() : this.ask("pic_rest", []);
      document.addEventListener("visibilitychange", this.seen);
      this.reached = (event) => this.reach(event);
      REACHING.forEach((name) => document.addEventListener(name, this.reached, { passive: true }));
      this.$refs.canvas.addEventListener("wheel", (event) => this.wheel(event), { passive: false });
      this.ask("pic_frames", []);
    },
    unmounted() {
      this.session.unsubscribe(this.subscription);
      this.sizes.disconnect();
      document.removeEventListener("visibilitychange", this.seen);
      REACHING.forEach((name) => document.removeEventListener(name, this.reached));
      [this.reachTimer, this.sizeTimer].forEach((timer) => clearTimeout(timer));
      clearInterval(this.holdTimer);
      this.stop();
    },
    methods: {
      /* Call a method; a lost connection is reported elsewhere. */
      async ask(name, given) {
        try {
          return await this.trame.trigger(name, given);
        } catch (refused) {
          console.warn(name, refused);
          return null;
        }
      },

      /* Somebody who moves a slider, or is about to, must not wait for a picture of the ring, which
         cannot be interrupted: the program starts none while it is told that a slider is held. */
      reach(event) {
        const over = event.target.matches && event.target.matches('input[type="range"]');
        const pressed = event.buttons !== 0;
        if (over && event.type === "pointerdown") {
          this.gripped = true;
        }
        if (this.gripped && pressed) {
          clearTimeout(this.reachTimer);
          this.holdBack(true);
        } else if (this.gripped) {
          this.gripped = false;
          clearTimeout(this.reachTimer);
          this.holdBack(false);
        } else if (over && event.type === "pointermove") {
          clearTimeout(this.reachTimer);
          this.reachTimer = setTimeout(() => this.holdBack(false), REACH);
          this.holdBack(true);
        }
      },

      holdBack(held) {
        if (held !== this.heldBack && (!held || this.trame.state.get("may_edit"))) {
          this.heldBack = held;
          this.ask("pic_hold", [held]);
          clearInterval(this.holdTimer);
          if (held) this.holdTimer = setInterval(() => this.ask("pic_hold", [true]), HOLD);
        }
      },

      // --- received pictures ---------------------------------------------------------------
      sendSize() {
        const box = this.$refs.place.getBoundingClientRect();
        if (box.width < 1 || box.height < 1) {
          return;
        }
        this.size = [box.width, box.height];
        const ratio = window.devicePixelRatio || 1;
        this.ask("pic_hello", [box.width, box.height, ratio, this.turn]);
        this.askLight();
      },

      ring(side) {
        if (!this.rings[side]) {
          const [width, height] = this.size || [1280, 720];
          const ratio = Math.min(window.devicePixelRatio || 1, 2);
          const each = 4 * width * height * ratio * ratio * (this.mode === "swipe" ? 2 : 1);
          this.rings[side] = new window.turnlight_ring.Ring(this.places, Math.max(9, Math.floor(BUDGET / each)));
        }
        return this.rings[side];
      },

      arrive(frame) {
        this.ask("pic_got", [frame.number]);
        if (frame.epoch < this.ringEpoch) {
          return;
        }
        if (frame.epoch > this.ringEpoch) {
          this.ringEpoch = frame.epoch;
          Object.entries(this.loose).forEach(([side, frame]) => this.ring(side).drop(frame));
          Object.values(this.rings).forEach((ring) => ring.clear());
          this.rings = {};
          this.loose = {};
        }
        this.stats.arrived = { epoch: frame.epoch, grade: frame.grade, at: performance.now() };
        frame.blob = new Blob([frame.jpeg], { type: "image/jpeg" });
        delete frame.jpeg;
        const ring = this.ring(frame.side);
        if (frame.slot >= 0) {
          frame = ring.put(frame);
        } else {
          if (this.loose[frame.side]) {
            ring.drop(this.loose[frame.side]);
          }
          this.loose[frame.side] = frame;
        }
        this.count();
        this.first = false;
        const off = Math.abs(around(frame.turn - this.turn + 180) - 180);
        if (off < 1e-3 || (this.dragging && frame.grade === "preview")) {
          this.reveal(frame);
        } else if (frame.slot >= 0) {
          const near = Math.min(ring.most, this.places) / 2;
          if (ring.distance(frame.slot, this.slot()) <= near) {
            ring.decode(frame);
          }
        }
      },

      count() {
        const rings = this.sides.map((side) => this.ring(side));
        this.have = Math.min(...rings.map((ring) => ring.count(1)));
        this.fine = Math.min(...rings.map((ring) => ring.count(2)));
        this.stats.ring = { have: this.have, fine: this.fine, of: this.places };
      },

      // --- shown pictures ------------------------------------------------------------------
      slot(turn = this.turn) {
        return Math.round(around(turn) / this.step) % this.places;
      },

      /* The picture of a side for the present turn, if there is one. */
      found(side) {
        const slot = this.slot();
        const exact = Math.abs(around(this.turn - slot * this.step + 180) - 180) < 1e-3;
        const loose = this.loose[side];
        if (exact) {
          return this.ring(side).frames[slot];
        }
        return loose && Math.abs(loose.turn - this.turn) < 1e-3 ? loose : null;
      },

      async reveal(frame) {
        const ring = this.ring(frame.side);
        await ring.decode(frame);
        const before = this.shown[frame.side];
        // A newer picture may have arrived while this one was decoded. This one is still newer than the
        // one shown, and pictures may go on arriving faster than they are decoded.
        const late = before && (frame.epoch < before.epoch || (frame.dropped && frame.epoch === before.epoch));
        if (late || !frame.bitmap) {
          if (frame.dropped && frame.bitmap && !frame.shown) {
            frame.bitmap.close();
            frame.bitmap = null;
          }
          return;
        }
        if (before && before !== frame) {
          before.shown = false;
          if (before.gone && before.bitmap) {
            before.bitmap.close();
            before.bitmap = null;
          }
        }
        frame.shown = true;
        this.shown[frame.side] = frame;
        this.judge();
        if (this.ownDrawn) return;
        this.shownGrade = frame.grade;
        this.paint();
      },

      paint() {
        if (!this.painting && !this.ownDrawn) {
          this.painting = requestAnimationFrame(() => {
            this.painting = 0;
            this.paintNow();
          });
        }
      },

      paintNow() {
        const canvas = this.$refs.canvas;
        if (!canvas) {
          return;
        }
        const ratio = Math.min(window.devicePixelRatio || 1, 2);
        const box = this.$refs.place.getBoundingClientRect();
        const [width, height] = [Math.round(box.width * ratio), Math.round(box.height * ratio)];
        if (canvas.width !== width || canvas.height !== height) {
          canvas.width = width;
          canvas.height = height;
        }
        const context = canvas.getContext("2d", { alpha: false });
        const { A, B } = this.shown;
        if (this.mode === "stacked" && A && B) {
          this.drawCovering(context, A, 0, 0, width, height / 2);
          this.drawCovering(context, B, 0, height / 2, width, height / 2);
          context.fillStyle = "#8a8f96";
          context.fillRect(0, Math.round(height / 2) - 1, width, 2);
        } else if (this.mode === "swipe" && A && B) {
          this.drawCovering(context, B, 0, 0, width, height);
          context.save();
          context.beginPath();
          context.rect(0, 0, width * this.swipe, height);
          context.clip();
          this.drawCovering(context, A, 0, 0, width, height);
          context.restore();
        } else if (B) {
          this.drawCovering(context, B, 0, 0, width, height);
        }
        const frame = B || A;
        if (frame) {
          this.stats.painted += 1;
          this.stats.shown = {
            epoch: frame.epoch,
            turn: frame.turn,
            grade: frame.grade,
            at: performance.now(),
          };
          this.stats.turn = this.turn;
          if (this.stats.log.length < 4000) {
            this.stats.log.push([performance.now(), frame.epoch, frame.turn, frame.grade]);
          }
        }
      },

      /* Draw a picture so that it covers a rectangle without distortion. */
      drawCovering(context, frame, x, y, width, height) {
        const { bitmap } = frame;
        if (!bitmap) {
          return;
        }
        const scale = Math.max(width / bitmap.width, height / bitmap.height);
        const [cropWidth, cropHeight] = [width / scale, height / scale];
        context.imageSmoothingQuality = "high";
        context.drawImage(
          bitmap,
          (bitmap.width - cropWidth) / 2,
          (bitmap.height - cropHeight) / 2,
          cropWidth,
          cropHeight,
          x,
          y,
          width,
          height,
        );
      },

      // --- turning -------------------------------------------------------------------------
      turnTo(degrees, { moving = false, ahead = false, quantised = true } = {}) {
        const turn = around(degrees);
        if (this.ownDrawn) {
          this.ownTurn(turn, moving);
          return;
        }
        this.turn = quantised ? around(Math.round(turn / this.step) * this.step) : turn;
        this.stats.turn = this.turn;
        const lacking = this.sides.some((side) => {
          const frame = this.found(side);
          if (frame) {
            this.reveal(frame);
          }
          return !frame || (!moving && frame.grade !== "fine");
        });
        this.sides.forEach((side) => this.tend(side));
        if (lacking || !this.reportedAt || performance.now() - this.reportedAt > 400 || !moving) {
          this.reportedAt = performance.now();
          this.turns.put([this.turn, moving && lacking, ahead]);
        }
      },

      tend(side) {
        const ring = this.ring(side);
        if (ring.most < this.places && !ring.tending) {
          ring.tending = ring.tend(this.slot()).finally(() => {
            ring.tending = null;
          });
        }
      },

      afterPause(send) {
        clearTimeout(this.pauseTimer);
        this.pauseTimer = setTimeout(send, SETTLE);
      },

      spin() {
        if (this.spinning) {
          this.stop();
          return;
        }
        this.spinning = true;
        if (this.ownDrawn) {
          this.ownSpin(SPIN_SECONDS);
          return;
        }
        let last = performance.now();
        let turn = this.turn;
        let requested = -1;
        const go = (now) => {
          if (!this.spinning) {
            return;
          }
          this.spinTimer = requestAnimationFrame(go);
          const wanted = turn + ((now - last) / 1000) * (360 / SPIN_SECONDS);
          last = now;
          // No picture is skipped: where one is still missing, the rod waits for it.
          const next = around((this.slot(turn) + 1) * this.step);
          const slot = this.slot(next);
          const there = this.sides.every((side) => {
            const frame = this.ring(side).frames[slot];
            return frame && window.turnlight_ring.grade(frame) >= 1 && (frame.bitmap || (this.ring(side).decode(frame), 0));
          });
          if (!there) {
            if (requested !== slot) {
              requested = slot;
              this.turns.put([next, false, true]);
            }
            return;
          }
          turn = wanted;
          if (this.slot(turn) !== this.slot()) {
            this.turnTo(turn, { moving: true, ahead: true });
          }
        };
        this.spinTimer = requestAnimationFrame(go);
      },

      stop() {
        if (this.spinning) {
          this.spinning = false;
          cancelAnimationFrame(this.spinTimer);
          this.turnTo(this.turn);
        }
      },

      typeTurn(event) {
        const degrees = Number.parseFloat(event.target.value);
        if (Number.isFinite(degrees)) {
          this.stop();
          this.turnTo(degrees, { quantised: false });
        }
        event.target.value = Math.round(this.turn * 10) / 10;
      },

      // --- view ----------------------------------------------------------------------------
      set(changes, moving = false) {
        this.pendingLook = { ...this.pendingLook, ...changes };
        this.own = { ...this.own, ...changes };
        this.ownChanged();
        // The program need not know of every step of a view that it does not draw.
        if (this.ownDrawn && moving) return;
        const all = this.pendingLook;
        this.looks.put([all, moving]).then(() => {
          if (!this.looks.busy && this.pendingLook === all) {
            this.pendingLook = {};
          }
        });
      },

      now(name) {
        return this.own[name];
      },
    },
    template: `
      <div class="view"><div class="picture" ref="place">
        <canvas ref="canvas" tabindex="0" role="slider" data-test="picture"
          aria-label="The rod, turned about its axis" :aria-valuenow="Math.round(turn)"
          aria-valuemin="0" aria-valuemax="360" :aria-valuetext="'turned ' + turnText"
          aria-describedby="picture-keys"
          @pointerdown="press" @pointermove="drag" @pointerup="release" @pointercancel="release"
          @dblclick="fit" @keydown="key" @contextmenu.prevent></canvas>
        <canvas ref="solid" class="solid" :key="canvasNumber" :class="{ waiting: !ownDrawn }"
          aria-hidden="true" data-test="solid"></canvas>
        <canvas ref="photo" class="photo" v-show="photoShown" aria-hidden="true" data-test="photo"></canvas>
        <p id="picture-keys" class="sr">Arrow keys turn the rod; with Shift they walk the camera
          round it. Plus and minus zoom, F fits, Space spins, L, V and D change light, view and
          finish, P takes a photograph.</p>
        <p v-if="stage.problem && ownDrawn" class="veil" role="alert">{{ stage.problem }}</p>
        <p v-else-if="trouble && !ownDrawn" class="veil" role="alert">{{ trouble }}</p>
        <p v-else-if="first" class="veil">Drawing the picture …</p>
        <div class="badges">
          <p v-if="tried" class="tag" data-test="tried">Colours tried, not in the design: {{ tried }}</p>
          <tl-photo></tl-photo>
          <p v-if="freshness && !photoShown" class="tag fresh" data-test="freshness">{{ freshness }}</p>
          <p v-if="pending && pending.length" class="tag" data-test="pending">The picture shows the last design that
            fits. Not in it yet: {{ pending.map((value) => value.words).join("; ") }}.</p>
        </div>
        <template v-if="mode !== 'one' && labels">
          <span class="tag top left">A: {{ caption('A') }}</span>
          <span class="tag" :class="mode === 'swipe' ? 'top right' : 'middle left'">B: {{ caption('B') }}</span>
        </template>
        <div v-if="mode === 'swipe'" class="swipe" :style="{ left: 100 * swipe + '%' }"
          role="slider" tabindex="0" aria-label="Line between A and B" data-test="swipe"
          aria-valuemin="0" aria-valuemax="100" :aria-valuenow="Math.round(100 * swipe)"
          @keydown="swipeBy" @pointerdown="$event.target.setPointerCapture($event.pointerId)"
          @pointermove="swipeTo"><span></span></div>
      </div><tl-viewbar></tl-viewbar>
      <teleport v-if="unrolled" to="#unrolled-place"><tl-unrolled :units="units" @close="showUnrolled(false)" /></teleport>
      </div>`,
  };

  window.turnlight_picture = {
    install(app) {
      // Scripts are loaded in any order: the mixins are defined by now.
      const names = ["gestures", "freshness", "browser_picture", "photo"];
      const mixins = names.map((name) => window[`turnlight_${name}`]);
      app.component("tl-picture", { ...picture, mixins });
    },
  };
})();
