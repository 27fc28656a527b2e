/* Pictures kept in memory by their slot in the turn, and a sender of the newest of many messages. */

"use strict";

(() => {
  const GRADES = ["preview", "plain", "fine"];

  const grade = (frame) => GRADES.indexOf(frame.grade);

  /* Sends the newest of many messages, each when the previous one has been answered. */
  class LatestSender {
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

  /* Pictures of one side by their slot in the turn. All JPEG files are kept; decoded bitmaps only up
     to the number `most`, those nearest to the present turn. */
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
      frame.dropped = true;
    }

    count(least) {
      return this.frames.filter((frame) => frame && grade(frame) >= least).length;
    }

    distance(slot, from) {
      const steps = Math.abs(slot - from) % this.places;
      return Math.min(steps, this.places - steps);
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

    /* Decode the pictures near a slot, and release the bitmaps that are far from it. */
    async tend(here) {
      const near = Math.min(this.most, this.places) / 2;
      for (const frame of this.frames) {
        if (frame && frame.bitmap && !frame.shown && this.distance(frame.slot, here) > near + 2) {
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

  window.turnlight_ring = { LatestSender, Ring, grade };
})();
