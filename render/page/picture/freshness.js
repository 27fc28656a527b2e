/* What the page says while the picture is not that of the newest design: out of date, or a draft.
   The captions of a comparison are those of the pictures shown, so they wait for these too. */

"use strict";

window.turnlight_freshness = {
  data() {
    return {
      // Epoch of the oldest picture shown, and the lowest grade among those shown.
      shownEpoch: 0,
      lowest: 0,
      lateSince: "",
      captions: [], // with the epoch and the number of the edit from which on they are true
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
    labels: {
      handler(labels) {
        // A drag changes them often before the first of its pictures comes.
        const now = { labels, epoch: this.epoch, number: this.stage.wanted };
        this.captions = [...this.captions.slice(-100), now];
      },
      immediate: true,
    },
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
    /* Caption of a side, as it is shown. */
    caption(side) {
      const isShown = ({ epoch, number }) =>
        this.ownDrawn ? number <= this.ownNumber : epoch <= this.shownEpoch;
      const { labels } = this.captions.findLast(isShown) || this.captions.at(-1);
      return labels[side];
    },

    /* Take notice of the pictures that are shown now. */
    judge() {
      const shown = this.sides.map((side) => this.shown[side]);
      this.shownEpoch = Math.min(...shown.map((frame) => (frame ? frame.epoch : 0)));
      this.lowest = Math.min(...shown.map((frame) => (frame ? window.turnlight_ring.grade(frame) : 0)));
    },
  },
};
