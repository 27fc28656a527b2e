/* Pictures kept in memory by their place in the turn, and messages of which the newest counts. */

"use strict";

(() => {
  const GRADES = ["preview", "plain", "fine"];

  const grade = (frame) => GRADES.indexOf(frame.grade);

  /* The newest of many messages, sent when the one before has been answered. */
  class Newest {
    constructor(send) {
      this.send = send;
      this.waiting = null;
      this.busy = false;
    }

    async put(message) {
      this.waiting = message;
      if (this.busy) {
        return;
      }
      this.busy = true;
      try {
        while (this.waiting) {
          const next = this.waiting;
          this.waiting = null;
          await this.send(next);
        }
      } finally {
        this.busy = false;
      }
    }
  }

  /* Pictures of one side by their place in the turn. Files are all kept; decoded ones as far as
     memory goes, those nearest to what is shown first. */
  class Ring {
    constructor(places, most) {
      this.places = places;
      this.most = most;
      this.frames = new Array(places).fill(null);
      this.decoded = 0;
    }

    put(frame) {
      const old = this.frames[frame.slot];
      if (old && grade(old) > grade(frame)) {
        return old;
      }
      if (old) {
        this.drop(old);
      }
      this.frames[frame.slot] = frame;
      return frame;
    }

    clear() {
      this.frames.forEach((frame) => frame && this.drop(frame));
      this.frames.fill(null);
    }

    drop(frame) {
      if (frame.bitmap && !frame.shown) {
        frame.bitmap.close();
        frame.bitmap = null;
        this.decoded -= 1;
      }
      frame.gone = true;
    }

    count(least) {
      return this.frames.filter((frame) => frame && grade(frame) >= least).length;
    }

    away(slot, from) {
      const distance = Math.abs(slot - from) % this.places;
      return Math.min(distance, this.places - distance);
    }

    async decode(frame) {
      if (frame.bitmap) {
        return frame.bitmap;
      }
      if (!frame.decoding) {
        frame.decoding = createImageBitmap(frame.blob).then((bitmap) => {
          frame.decoding = null;
          frame.bitmap = bitmap;
          this.decoded += 1;
          return bitmap;
        });
      }
      return frame.decoding;
    }

    /* Decode what will be wanted next, and let go of what is furthest away. */
    async tend(here) {
      const near = Math.min(this.most, this.places) / 2;
      for (const frame of this.frames) {
        if (frame && frame.bitmap && !frame.shown && this.away(frame.slot, here) > near + 2) {
          frame.bitmap.close();
          frame.bitmap = null;
          this.decoded -= 1;
        }
      }
      for (let step = 0; step <= near; step += 1) {
        for (const slot of step ? [here + step, here - step] : [here]) {
          const frame = this.frames[(slot + this.places) % this.places];
          if (frame && !frame.bitmap) {
            await this.decode(frame);
          }
        }
      }
    }
  }

  window.turnlight_ring = { Newest, Ring, grade };
})();
