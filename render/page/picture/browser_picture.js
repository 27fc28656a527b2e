/* The picture drawn by this browser, in place of the pictures that the program draws. The program
   packs the stage after an edit; view, light and turn are this tab's own. */

"use strict";

(() => {
  const STORED = "turnlight-drawing"; // who draws, as chosen in this browser
  const CHOICES = ["auto", "browser", "program"];
  const BRISK = 16; // ms that a picture of what moves may take
  const MOST_PIXELS = 8.4e6; // of the canvas: 3840 x 2160
  const MOST_LOSSES = 3; // of the context
  const LIGHT_AFTER = 120; // ms between two lights that are asked for
  const MOST_BYTES = 64e6; // of packed maps that are kept, so that an edit undone is not fetched
  const STEEPEST = (86 * Math.PI) / 180; // scenes.stage.camera.STEEPEST
  const RADIANS = Math.PI / 180;
  const LEAST_SLANT = 0.2; // framing._LEAST_SLANT

  const UNROLLED = "turnlight-unrolled"; // whether the wrap is shown unrolled, as chosen in this browser
  const ROOM = "(min-width: 1180px) and (min-height: 840px)"; // for the wrap unrolled below the picture

  const REASONS = {
    "no WebGL2": "this browser has no WebGL2 that can draw it",
    software: "this browser draws in software, which is slower",
    slow: "this browser draws it too slowly",
    lost: "this device has no memory for it",
  };

  /* Parts of stages by their names, which tell what is in them: nothing is fetched twice. */
  class Parts {
    constructor() {
      this.kept = new Map();
      this.size = 0;
      this.fetched = [];
    }

    async get(name) {
      const kept = this.kept.get(name);
      if (kept) {
        this.kept.delete(name);
        this.kept.set(name, kept);
        return kept;
      }
      const answer = await window.turnlight_fetch(`stage/${name}`);
      if (answer.status !== 200) {
        // It has been replaced meanwhile, and the newest names are on their way.
        throw Object.assign(new Error(`stage/${name}: ${answer.status}`), { passing: true });
      }
      return this.keep(name, new Uint8Array(await answer.arrayBuffer()));
    }

    /* All at once that is new in a stage; where that is not known any more, `get` fetches it. */
    async getNew(stage) {
      if (this.kept.has(stage)) return;
      const answer = await window.turnlight_fetch(`stage/${stage}/new`);
      if (answer.status !== 200) return;
      const whole = new Uint8Array(await answer.arrayBuffer());
      const listed = new DataView(whole.buffer).getUint32(0, true);
      let at = 4 + listed;
      for (const [name, length] of JSON.parse(new TextDecoder().decode(whole.subarray(4, at)))) {
        if (!this.kept.has(name)) this.keep(name, whole.slice(at, at + length));
        at += length;
      }
    }

    keep(name, bytes) {
      this.fetched.push(name);
      this.kept.set(name, bytes);
      this.size += bytes.length;
      for (const [other, old] of this.kept) {
        if (this.size <= MOST_BYTES || other === name) break;
        this.kept.delete(other);
        this.size -= old.length;
      }
      return bytes;
    }

    async json(name) {
      return JSON.parse(new TextDecoder().decode(await this.get(name)));
    }
  }

  /* The camera of a view of a stage, as scenes.stage.camera places it. */
  function cameraOf(framing, look, unit, aspect) {
    const half = Math.tan(framing.angle / 2);
    const distance = Math.max(framing.wide / 2 / (half * aspect) + framing.nearer, framing.least);
    const azimuth = framing.azimuth + look.walk * RADIANS;
    let elevation = framing.elevation + look.rise * RADIANS;
    if (look.rise) elevation = Math.min(STEEPEST, Math.max(-STEEPEST, elevation));
    const target = [framing.target[0] + look.along * unit, framing.target[1], framing.target[2]];
    const towards = [
      Math.sin(azimuth) * Math.cos(elevation),
      Math.sin(elevation),
      Math.cos(azimuth) * Math.cos(elevation),
    ];
    return {
      position: target.map((at, i) => at + distance * towards[i]),
      target,
      up: [0, 1, 0],
      angle: 2 * Math.atan(half / look.zoom),
      distance,
    };
  }

  const stored = (name) => {
    try {
      return localStorage.getItem(name);
    } catch {
      return null;
    }
  };

  const store = (name, value) => {
    try {
      localStorage.setItem(name, value);
    } catch {
      // Storage is switched off: the choice lasts as long as the tab.
    }
  };

  window.turnlight_browser_picture = {
    props: { stage: Object, lit: Object },
    data() {
      return {
        drawer: CHOICES.includes(stored(STORED)) ? stored(STORED) : "auto",
        drawers: CHOICES,
        ownState: "", // "", then "starting", "drawn", "away" or "none", as modelView tells
        ownWhy: "",
        ownNumber: -1, // of the edit that is on the screen
        ownDraft: false,
        canvasNumber: 0,
        own: { ...this.look }, // the look of this tab, which the program learns afterwards
        unrolled: stored(UNROLLED) === "yes",
        stageTaken: "", // name of the stage that is here, and the number of its edit
        stageNumber: -1,
      };
    },
    computed: {
      ownDrawn() {
        return this.ownState === "drawn";
      },
      drawnBy() {
        if (this.ownState !== "none") return "";
        if (this.drawer === "program") return "The program draws the picture, as chosen here.";
        return `The program draws the picture: ${REASONS[this.ownWhy] || "drawing it here failed"}.`;
      },
    },
    watch: {
      /* Where there is room for it, and its maps are here already. */
      ownDrawn(drawn) {
        const fits = window.matchMedia(ROOM).matches;
        if (drawn && fits && stored(UNROLLED) === null) this.unrolled = true;
      },
      stage() {
        this.takeStage();
      },
      lit() {
        this.takeLight();
      },
      look(look) {
        this.own = { ...look, ...this.pendingLook };
        this.ownChanged();
      },
      mode() {
        this.ownChanged();
      },
      swipe() {
        this.ownShow();
      },
    },
    created() {
      this.parts = new Parts();
      this.host = this.ownStage = this.ownLight = null;
      this.shift = [0, 0]; // of the picture's middle, as tangents right and down
      this.told = this.asked = "";
    },
    mounted() {
      // For measurements and tests of the page.
      this.stats.own = () => ({
        state: this.ownState,
        why: this.ownWhy,
        renderer: this.rendererName,
        number: this.ownNumber,
        draft: this.ownDraft,
        timings: this.host ? this.host.timings : [],
        light: this.ownLight ? this.ownLight.name : "",
        fetched: this.parts.fetched,
        held: this.parts.size,
      });
      this.beginOwn();
    },
    unmounted() {
      if (this.host) this.host.stop();
    },
    methods: {
      // --- who draws -----------------------------------------------------------------------
      beginOwn() {
        const drawing = window.turnlight_drawing;
        const forced = this.drawer === "browser";
        this.rendererName = "";
        if (this.drawer === "program") {
          this.ownEnded("asked for");
          return;
        }
        const canvas = this.$refs.solid;
        const gl = drawing.openContext(canvas, drawing.model.longestSide);
        if (!gl) {
          this.ownEnded("no WebGL2");
          return;
        }
        this.rendererName = drawing.rendererOf(gl);
        if (drawing.isSoftware(this.rendererName) && !forced) {
          gl.getExtension("WEBGL_lose_context")?.loseContext();
          this.ownEnded("software");
          return;
        }
        this.ownState = "starting";
        this.host = drawing.modelView(canvas, {
          open: () => drawing.drawingOf(canvas, drawing.model, { bytes: (name) => this.parts.get(name) }),
          view: () => this.ownView(),
          fit: (what, size) => this.ownParts(what, size),
          changed: (state, why) => this.ownTold(state, why),
          forced,
          brisk: BRISK,
          mostPixels: MOST_PIXELS,
          mostLosses: MOST_LOSSES,
        });
        this.tellProgram();
        this.takeStage();
        this.takeLight();
        this.askLight();
      },

      chooseDrawer(drawer) {
        this.drawer = drawer;
        store(STORED, drawer);
        if (this.host) this.host.stop();
        this.host = null;
        this.ownWhy = this.asked = "";
        this.canvasNumber += 1; // another canvas, and so another context
        this.$nextTick(() => this.beginOwn());
      },

      ownEnded(why) {
        this.ownState = "none";
        this.ownWhy = why;
        this.tellProgram();
        // The frames that were kept are shown again, or asked for.
        if (this.size) this.turnTo(this.turn);
      },

      ownTold(state, why) {
        if (state === "none") {
          if (!(why in REASONS) && why !== "asked for") console.warn("drawing in the browser:", why);
          if (why !== "asked for") this.ownEnded(why);
          return;
        }
        const before = this.ownState;
        this.ownState = state;
        if (state === "drawn") this.ownPainted();
        if (state !== before) {
          this.tellProgram();
          if (state === "away") this.turnTo(this.turn);
        }
      },

      /* Say whether stages are to be packed for this tab, and pictures to be drawn for it. */
      tellProgram() {
        const wants = this.unrolled || (this.ownState !== "none" && this.ownState !== "");
        const message = [wants, Boolean(this.own.dry), this.ownState !== "drawn"];
        const text = JSON.stringify(message);
        if (text === this.told) return;
        // A tab that has never asked for a stage need not say that it wants none.
        const never = !this.told && !wants;
        this.told = text;
        if (!never) this.ask("stage_draws", message);
      },

      showUnrolled(shown) {
        this.unrolled = shown;
        store(UNROLLED, shown ? "yes" : "no");
        this.tellProgram();
        this.takeStage();
      },

      // --- what is shown -------------------------------------------------------------------
      async takeStage() {
        const { name, number } = this.stage;
        if (!(this.host || this.unrolled) || !name) return;
        try {
          const here = this.ownStage && this.ownStage.name === name;
          if (!here) await this.parts.getNew(name);
          const data = here ? this.ownStage.data : await this.parts.json(name);
          if (this.stage.name !== name) return;
          this.ownStage = { name, number, data };
          [this.stageTaken, this.stageNumber] = [name, number];
          this.ownShow();
        } catch (fault) {
          if (!fault.passing) throw fault;
        }
      },

      async takeLight() {
        const { name } = this.lit;
        if (!this.host || !name) return;
        try {
          const data = await this.parts.json(name);
          if (this.lit.name !== name) return;
          this.ownLight = { name, data };
          this.ownShow();
        } catch (fault) {
          if (!fault.passing) throw fault;
          this.asked = "";
          this.askLight(true);
        }
      },

      ownShow() {
        if (this.host) this.host.show();
      },

      /* The view without its size; null while stage or light are missing. */
      ownView() {
        if (!this.ownStage || !this.ownLight) return null;
        const { designs } = this.ownStage.data;
        const sides = this.sides.filter((side) => side in designs);
        const finished = sides.map((side) =>
          Boolean(designs[side].finished) && (!this.own.dry || !designs[side].dry),
        );
        const key = [this.ownStage.name, this.ownLight.name, this.own.exposure, sides, finished].join();
        const lights = this.ownLight.data;
        const parts = sides.map((side, i) => (
          { design: side, finished: finished[i], lit: lights[side] || lights.B }));
        return { key, parts, stage: this.ownStage.data, stops: this.own.exposure };
      },

      framing() {
        return this.ownStage.data.framings[this.own.view];
      },

      ownParts(what, size) {
        const { width, height } = size, low = Math.floor(height / 2);
        const stacked = what.parts.length > 1 && this.mode === "stacked";
        const line = Math.round(width * this.swipe);
        const whole = [0, 0, width, height];
        const place = {
          A: stacked ? { area: [0, height - low, width, low] } : { area: whole, shownPart: [0, 0, line, height] },
          B: stacked ? { area: [0, 0, width, low] } : { area: whole, shownPart: [line, 0, width - line, height] },
        };
        const [wide, high] = stacked ? [width, low] : [width, height];
        const camera = cameraOf(this.framing(), this.own, this.ownStage.data.unit, wide / high);
        const pixels = high / 2 / Math.tan(camera.angle / 2);
        const middle = [wide / 2 + this.shift[0] * pixels, high / 2 + this.shift[1] * pixels];
        return {
          ...what,
          ...size,
          camera,
          size: [wide, high],
          middle,
          scale: 1,
          upright: false,
          turn: this.turn * RADIANS,
          lightTurn: [this.own.light_turn * RADIANS - this.ownLight.data.B.turn, 0],
          parts: what.parts.map((part) => ({
            ...part,
            ...(what.parts.length > 1 ? place[part.design] : {}),
          })),
        };
      },

      ownPainted() {
        const what = this.ownView();
        const quality = this.$refs.solid.dataset.quality;
        if (what && this.host.shown() === what.key) {
          this.ownNumber = this.ownStage.number;
          this.ownDraft = what.parts.some((part) => {
            const design = this.ownStage.data.designs[part.design];
            return design[part.finished ? "finished" : "dry"].draft;
          });
        }
        this.first = false;
        const grade = quality === "fine" && !this.ownDraft ? "fine" : "preview";
        this.stats.painted += 1;
        this.stats.shown = { epoch: this.epoch, turn: this.turn, grade, at: performance.now() };
      },

      // --- light ---------------------------------------------------------------------------
      /* Something of the look, or the size, has changed. */
      ownChanged() {
        if (!this.host) return;
        this.tellProgram();
        this.askLight();
        this.ownShow();
      },

      askLight(missed = false) {
        if (!this.host || this.lightTimer) return;
        this.lightTimer = setTimeout(() => {
          this.lightTimer = 0;
          if (!this.host || !this.size) return;
          const { exposure, dry, fitted, ...settings } = this.own;
          const aspect = this.size[0] / (this.size[1] / (this.mode === "stacked" ? 2 : 1));
          const text = JSON.stringify([settings, aspect]);
          if (text === this.asked) return;
          this.asked = text;
          this.ask("stage_light", [settings, aspect, missed]);
        }, LIGHT_AFTER);
      },

      // --- gestures ------------------------------------------------------------------------
      ownTurn(degrees, moving) {
        this.turn = degrees;
        this.stats.turn = degrees;
        this.ownShow();
        if (!moving) this.turns.put([degrees, false, false]);
      },

      ownSpin(seconds) {
        let last = performance.now();
        const go = (now) => {
          if (!this.spinning) return;
          this.spinTimer = requestAnimationFrame(go);
          const turn = this.turn + ((now - last) / 1000) * (360 / seconds);
          last = now;
          this.ownTurn(((turn % 360) + 360) % 360, true);
        };
        this.spinTimer = requestAnimationFrame(go);
      },

      /* Zoom so that what is under the pointer stays there. */
      zoomAt(zoom, [x, y]) {
        const box = this.$refs.place.getBoundingClientRect();
        const stacked = this.mode === "stacked" ? 2 : 1;
        const [wide, high] = [box.width, box.height / stacked];
        const half = Math.tan(this.framing().angle / 2);
        const from = [x - box.left - wide / 2, ((y - box.top) % high) - high / 2];
        const before = (2 * half) / this.own.zoom / high; // tangent of a pixel
        const after = (2 * half) / zoom / high;
        const most = half * Math.max(0, 1 - 1 / zoom);
        this.shift = this.shift.map((at, i) => {
          const limit = i ? most : (most * wide) / high;
          return Math.min(limit, Math.max(-limit, at + from[i] * (before - after)));
        });
      },

      /* Scale of the picture, as the program tells it of a frame (framing.scale_of). */
      ownScale() {
        if (!this.ownDrawn) return this.scale;
        const { unit, designs, framings } = this.ownStage.data;
        const high = this.size[1] / (this.mode === "stacked" ? 2 : 1);
        const camera = cameraOf(framings[this.own.view], this.own, unit, this.size[0] / high);
        const height = 2 * camera.distance * Math.tan(camera.angle / 2);
        const slant = Math.abs(Math.cos(framings[this.own.view].azimuth + this.own.walk * RADIANS));
        return {
          radius: designs.B.radius / unit,
          height: height / unit,
          zoom: this.own.zoom,
          slant: Math.max(LEAST_SLANT, slant),
        };
      },
    },
  };
})();
