/* What the page says while the picture is not that of the newest design: out of date, or a draft. */

"use strict";

window.turnlight_freshness = {
  data() {
    return {
      // Epoch of the oldest picture shown, and the lowest grade among those shown.
      shownEpoch: 0,
      lowest: 0,
      lateSince: "",
    };
  },
  computed: {
    late() {
      return this.shownEpoch < this.epoch;
    },
    freshness() {
      if (this.first || this.trouble) {
        return ""; // said over the picture
      }
      if (this.late) {
        return `Out of date since ${this.lateSince}; the newest is being drawn`;
      }
      return ["A draft; the full picture follows", "The full picture; a finer one follows", ""][this.lowest];
    },
  },
  watch: {
    late: {
      handler(late) {
        if (late) {
          this.lateSince = window.turnlight_clock.time(new Date());
        }
      },
      immediate: true,
    },
  },
  methods: {
    /* Take notice of the pictures that are shown now. */
    judge() {
      const shown = this.sides.map((side) => this.shown[side]);
      this.shownEpoch = Math.min(...shown.map((frame) => (frame ? frame.epoch : 0)));
      this.lowest = Math.min(...shown.map((frame) => (frame ? window.turnlight_ring.grade(frame) : 0)));
    },
  },
};
