/* Gestures on the picture: drags, pinches, the wheel and the keys. */

"use strict";

(() => {
  const SLACK = 5; // pixels before a drag has a direction

  const around = (degrees) => ((degrees % 360) + 360) % 360;

  window.turnlight_gestures = {
    methods: {
      // --- camera --------------------------------------------------------------------------
      walkBy(walk, rise, moving = false) {
        const wrapped = around(this.now("walk") + walk + 180) - 180;
        this.set(
          { walk: wrapped, rise: Math.min(100, Math.max(-100, this.now("rise") + rise)) },
          moving,
        );
      },

      /* Zoom, about a place on the screen if there is one. */
      zoomBy(factor, moving = false, at = null) {
        this.zoomTo(this.now("zoom") * factor, moving, at);
      },

      zoomTo(wanted, moving, at) {
        const zoom = Math.min(12, Math.max(0.2, wanted));
        const box = this.$refs.place.getBoundingClientRect();
        const high = box.height / (this.mode === "stacked" ? 2 : 1);
        const [x, y] = at || [box.left + box.width / 2, box.top + high / 2];
        if (this.ownDrawn) {
          this.zoomAt(zoom, [x, y]);
          this.set({ zoom, fitted: false }, moving);
          return;
        }
        // A frame has the rod in its middle: the view moves along the rod, so that the place of the
        // rod beside the pointer stays there.
        const length = (this.scale.height * this.scale.zoom) / high / this.scale.slant;
        const off = (x - box.left - box.width / 2) * length;
        const along = this.now("along") + off * (1 / this.now("zoom") - 1 / zoom);
        this.set({ zoom, along, fitted: false }, moving);
      },

      fit() {
        this.lookFrom(this.now("view"));
      },

      /* See the whole of a view. */
      lookFrom(view) {
        this.shift = [0, 0];
        const zoom = this.filling[view] || 1;
        this.set({ view, walk: 0, rise: 0, zoom, fitted: true, along: 0 });
      },

      after(name, list) {
        return list[(list.indexOf(this.now(name)) + 1) % list.length];
      },

      wheel(event) {
        event.preventDefault();
        const factor = Math.exp(-event.deltaY * (event.deltaMode ? 0.04 : 0.0012));
        this.zoomBy(factor, true, [event.clientX, event.clientY]);
        this.afterPause(() => this.set({}, false));
      },

      // --- pointers and keys ---------------------------------------------------------------
      press(event) {
        if (event.button > 2) {
          return;
        }
        this.$refs.canvas.setPointerCapture(event.pointerId);
        this.pointers.set(event.pointerId, [event.clientX, event.clientY]);
        this.stop();
        const orbit =
          event.button !== 0 || event.shiftKey || event.ctrlKey || event.altKey || event.metaKey;
        this.grip = {
          x: event.clientX,
          y: event.clientY,
          kind: this.pointers.size > 1 || orbit ? "orbit" : null,
          turn: this.turn,
          along: this.now("along"),
          spread: this.spread(),
          zoom: this.now("zoom"),
        };
      },

      spread() {
        const [first, second] = [...this.pointers.values()];
        return second ? Math.hypot(first[0] - second[0], first[1] - second[1]) : 0;
      },

      drag(event) {
        if (!this.pointers.has(event.pointerId) || !this.grip) {
          return;
        }
        const before = this.pointers.get(event.pointerId);
        this.pointers.set(event.pointerId, [event.clientX, event.clientY]);
        const { grip } = this;
        const [dx, dy] = [event.clientX - grip.x, event.clientY - grip.y];
        if (!grip.kind) {
          if (Math.hypot(dx, dy) < SLACK) {
            return;
          }
          // A drag across the rod turns it; a drag along the rod moves the view along it.
          grip.kind = Math.abs(dy) >= Math.abs(dx) ? "turn" : "along";
        }
        this.dragging = true;
        const high = this.$refs.place.clientHeight / (this.mode === "stacked" ? 2 : 1);
        const scale = this.ownScale();
        if (grip.kind === "turn") {
          const radius = Math.max(12, (scale.radius / scale.height) * high);
          this.turnTo(grip.turn + (dy / radius) * (180 / Math.PI), { moving: true });
        } else if (grip.kind === "along") {
          this.set({ along: grip.along - ((dx / high) * scale.height) / scale.slant }, true);
        } else if (this.pointers.size > 1) {
          const spread = this.spread();
          if (grip.spread > 0 && spread > 0) {
            const [one, other] = [...this.pointers.values()];
            const middle = [(one[0] + other[0]) / 2, (one[1] + other[1]) / 2];
            this.zoomTo((grip.zoom * spread) / grip.spread, true, middle);
          }
          this.walkBy((before[0] - event.clientX) * 0.15, (event.clientY - before[1]) * 0.15, true);
        } else {
          this.walkBy((before[0] - event.clientX) * 0.3, (event.clientY - before[1]) * 0.3, true);
        }
      },

      release(event) {
        this.pointers.delete(event.pointerId);
        if (this.pointers.size || !this.grip) {
          return;
        }
        const { kind } = this.grip;
        this.grip = null;
        this.dragging = false;
        if (kind === "turn") {
          this.turnTo(this.turn);
        } else if (kind) {
          this.set({}, false);
        }
      },

      key(event) {
        if (event.ctrlKey || event.metaKey || event.altKey) {
          return;
        }
        const { shiftKey: shift } = event;
        const turn = (steps) => {
          this.stop();
          this.turnTo(this.turn + steps * this.step, { moving: true });
          this.afterPause(() => this.turnTo(this.turn));
        };
        const orbit = (walk, rise) => {
          this.walkBy(walk, rise, true);
          this.afterPause(() => this.set({}, false));
        };
        const zoom = (factor) => {
          this.zoomBy(factor, true);
          this.afterPause(() => this.set({}, false));
        };
        const keys = {
          ArrowLeft: () => (shift ? orbit(-4, 0) : turn(-1)),
          ArrowRight: () => (shift ? orbit(4, 0) : turn(1)),
          ArrowUp: () => (shift ? orbit(0, 4) : turn(-1)),
          ArrowDown: () => (shift ? orbit(0, -4) : turn(1)),
          PageUp: () => turn(-15),
          PageDown: () => turn(15),
          Home: () => this.turnTo(0),
          "+": () => zoom(1.12),
          "=": () => zoom(1.12),
          "-": () => zoom(1 / 1.12),
          " ": () => this.spin(),
          f: () => this.fit(),
          l: () => this.set({ light: this.after("light", this.lights) }),
          v: () => this.lookFrom(this.after("view", this.views)),
          d: () => this.set({ dry: !this.now("dry") }),
          p: () => this.photograph(),
        };
        const act = keys[event.key] || keys[event.key.toLowerCase()];
        if (act) {
          event.preventDefault();
          act();
        }
      },

      swipeBy(event) {
        const steps = { ArrowLeft: -0.02, ArrowRight: 0.02, Home: -1, End: 1 };
        if (event.key in steps) {
          event.preventDefault();
          this.swipe = Math.min(1, Math.max(0, this.swipe + steps[event.key]));
        }
      },

      swipeTo(event) {
        if (event.buttons & 1) {
          const box = this.$refs.place.getBoundingClientRect();
          this.swipe = Math.min(1, Math.max(0, (event.clientX - box.left) / box.width));
        }
      },
    },
  };
})();
