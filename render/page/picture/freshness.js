/* What the page says while the picture is not that of the newest design: out of date, or a draft, and
   how long still, from how long it has taken before in this tab. The captions of a comparison are those
   of the pictures shown, so they wait for these too. */

"use strict";

(() => {
  const STEPS = ["newest", "full", "finer", ""]; // what is lacking, in the order in which it comes
  const REMEMBERED = 5; // durations of a step, whose median is expected the next time
  const TICK = 500; // ms between two sentences

  /* The end of a sentence: when something will be there that has been awaited for a time, s. */
  function when(expected, elapsed, otherwise) {
    if (expected === null) return otherwise;
    const left = Math.round(expected - elapsed);
    if (left >= 1) return `in about ${left} s`;
    return elapsed < 1.5 * expected + 1 ? "in a moment" : `takes longer than usual, ${Math.round(elapsed)} s so far`;
  }

  window.turnlight_freshness = {
    data() {
      return {
        // Epoch of the oldest picture shown, and the lowest grade among those shown.
        shownEpoch: 0,
        lowest: 0,
        lateSince: "",
        captions: [], // with the epoch and the number of the edit from which on they are true
        elapsed: 0, // s since what is lacking has been awaited
      };
    },
    computed: {
      late() {
        return this.ownDrawn ? this.ownNumber < this.stage.wanted : this.shownEpoch < this.epoch;
      },
      /* What is lacking, of STEPS. */
      lacking() {
        if (this.first || (this.ownDrawn ? this.stage.problem : this.trouble)) return ""; // said over the picture
        if (this.late) return "newest";
        if (this.ownDrawn) return this.ownDraft ? "full" : "";
        return ["full", "finer", ""][this.lowest];
      },
      freshness() {
        if (!this.lacking) return "";
        const expected = this.expected(this.lacking);
        if (this.lacking === "newest") {
          return `Out of date since ${this.lateSince}; the newest ${when(expected, this.elapsed, "is being drawn")}`;
        }
        const then = when(expected, this.elapsed, "follows");
        return this.lacking === "full" ? `A draft; the full picture ${then}` : `The full picture; a finer one ${then}`;
      },
      /* What is asked for: an edit or another view begins another wait. */
      asked() {
        return this.ownDrawn ? `stage ${this.stage.wanted}` : `epoch ${this.epoch}`;
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
      lacking: {
        handler(now, before) {
          const place = (step) => STEPS.indexOf(step);
          if (before && place(now) > place(before)) this.lasted(before);
          this.startWaiting();
        },
        immediate: true,
      },
      asked() {
        this.startWaiting();
      },
    },
    created() {
      this.durations = {};
    },
    unmounted() {
      clearInterval(this.ticking);
    },
    methods: {
      /* Caption of a side, as it is shown. */
      caption(side) {
        const isShown = ({ epoch, number }) =>
          this.ownDrawn ? number <= this.ownNumber : epoch <= this.shownEpoch;
        const newest = this.captions.at(-1).labels[side];
        const shown = (this.captions.findLast(isShown) || this.captions.at(-1)).labels[side];
        // Until its first picture is drawn, what differs already would be called the same.
        const alike = (words) => ["", "the same", "as kept"].includes(words);
        return alike(shown) && !alike(newest) ? `${newest} (being drawn)` : shown;
      },

      /* Take notice of the pictures that are shown now. */
      judge() {
        const shown = this.sides.map((side) => this.shown[side]);
        this.shownEpoch = Math.min(...shown.map((frame) => (frame ? frame.epoch : 0)));
        this.lowest = Math.min(...shown.map((frame) => (frame ? window.turnlight_ring.grade(frame) : 0)));
      },

      startWaiting() {
        clearInterval(this.ticking);
        this.elapsed = 0;
        this.began = performance.now();
        if (!this.lacking) return;
        this.ticking = setInterval(() => {
          this.elapsed = (performance.now() - this.began) / 1000;
        }, TICK);
      },

      lasted(step) {
        const name = `${this.ownDrawn} ${this.mode} ${step}`;
        const known = this.durations[name] || [];
        this.durations[name] = [...known, (performance.now() - this.began) / 1000].slice(-REMEMBERED);
      },

      /* Median of how long a step has taken, s; null before the first time. */
      expected(step) {
        const known = this.durations && this.durations[`${this.ownDrawn} ${this.mode} ${step}`];
        return known ? [...known].sort((one, other) => one - other)[Math.floor(known.length / 2)] : null;
      },
    },
  };
})();
