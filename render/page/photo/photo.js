/* A photograph in place of the standing picture: it grows pass by pass, and gives way as soon as
   anything moves. */

"use strict";

(() => {
  const STORED = "turnlight-photo-paths"; // paths through each pixel, as chosen in this browser
  const USUAL = 64;
  const LOOK = 20; // ms between two looks at whether the program knows the view

  const pause = (time) => new Promise((done) => setTimeout(done, time));

  const stored = () => {
    try {
      return Number(localStorage.getItem(STORED)) || USUAL;
    } catch {
      return USUAL;
    }
  };

  window.turnlight_photo = {
    props: { photo: Object, photoPaths: Array },
    data: () => ({
      photoOn: false, // asked for, and nothing has moved since
      photoShown: false,
      photoCount: stored(),
      photoTakes: "", // how long one will take, where it was asked for
    }),
    computed: {
      /* What a photograph is of. */
      photoOf() {
        const look = Object.entries(this.own).sort();
        return JSON.stringify([this.turn, look, this.mode, this.spinning, this.dragging]);
      },
    },
    watch: {
      photoOf() {
        if (this.photoOn) this.endPhoto();
      },
      photo(photo, before) {
        // The program has dropped it: the design has changed.
        if (!photo.number && before.number) this.hidePhoto();
        if (photo.name && photo.name !== before.name) this.developPhoto(photo.name);
      },
    },
    created() {
      this.photoBlob = null;
      this.photoAsked = 0;
    },
    mounted() {
      // For measurements and tests of the page.
      this.stats.photo = () => ({ ...this.photo, shown: this.photoShown, on: this.photoOn });
    },
    methods: {
      /* Take a photograph of what is seen now, or return to the live picture. */
      async photograph() {
        if (this.photoOn) {
          this.endPhoto();
          return;
        }
        this.stop();
        this.centre();
        const asked = ++this.photoAsked;
        // The program photographs the view that it knows.
        clearTimeout(this.pauseTimer);
        if (Object.keys(this.pendingLook).length) this.set({}, false);
        while (this.looks.busy || this.turns.busy) await pause(LOOK);
        if (asked !== this.photoAsked) return;
        this.photoOn = true;
        const begun = await this.ask("photo_take", [this.turn, this.photoCount]);
        if (!begun && asked === this.photoAsked) this.hidePhoto();
      },

      /* A picture that was zoomed about the pointer has the rod beside its middle; a photograph, as a
         frame of the program, has it in the middle. */
      centre() {
        if (!this.ownDrawn || !this.shift.some((at) => at)) return;
        const scale = this.ownScale();
        const framing = this.framing();
        const along = (this.shift[0] * scale.height) / (2 * Math.tan(framing.angle / 2) / this.own.zoom);
        this.shift = [0, 0];
        this.set({ along: this.own.along - along / scale.slant });
      },

      /* Ask how long a photograph of what is seen now will take. */
      async forecastPhoto() {
        this.photoTakes = (await this.ask("photo_takes", [this.photoCount])) || "";
      },

      choosePaths(paths) {
        this.photoCount = paths;
        this.forecastPhoto();
        try {
          localStorage.setItem(STORED, paths);
        } catch {
          // Storage is switched off: the choice lasts as long as the tab.
        }
      },

      stopPhoto() {
        this.ask("photo_stop", []);
      },

      endPhoto() {
        this.hidePhoto();
        this.ask("photo_end", []);
      },

      hidePhoto() {
        this.photoAsked += 1;
        this.photoOn = this.photoShown = false;
        this.photoBlob = null;
        if (!this.ownDrawn) this.paint();
      },

      async developPhoto(name) {
        const asked = this.photoAsked;
        const answer = await window.turnlight_fetch(`photo/${name}`);
        if (answer.status !== 200) return; // a newer one is on its way, or none
        const blob = await answer.blob();
        const bitmap = await createImageBitmap(blob);
        const canvas = this.$refs.photo;
        if (this.photoOn && asked === this.photoAsked && this.photo.name === name && canvas) {
          [canvas.width, canvas.height] = [bitmap.width, bitmap.height];
          canvas.getContext("2d", { alpha: false }).drawImage(bitmap, 0, 0);
          this.photoBlob = blob;
          this.photoShown = true;
        }
        bitmap.close();
      },

      savePhoto() {
        const link = document.createElement("a");
        link.href = URL.createObjectURL(this.photoBlob);
        link.download = this.photo.file;
        link.click();
        setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
      },
    },
  };

  /* How far the photograph has come, and what can be done with it. */
  const Photo = {
    inject: ["picture"],
    template: `
      <div v-if="picture.photoOn" class="tag photographed" data-test="photo-state">
        <progress v-if="picture.photo.working" :value="picture.photo.share" max="1"
          aria-label="Progress of the photograph"></progress>
        <span role="status">{{ picture.photo.words || "Photograph: beginning" }}</span>
        <button v-if="picture.photo.working" class="btn" data-test="photo-stop"
          title="End it with the paths that it has" @click="picture.stopPhoto">Stop</button>
        <button v-else-if="picture.photoShown" class="btn" data-test="photo-save"
          title="Save the photograph as a PNG file" @click="picture.savePhoto">Save</button>
        <button class="btn" data-test="photo-end" title="Back to the live picture (P)"
          @click="picture.endPhoto">Live picture</button>
      </div>`,
  };

  window.turnlight_photo_state = {
    install(app) {
      app.component("tl-photo", Photo);
    },
  };
})();
