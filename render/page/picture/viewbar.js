/* The bar below the picture: turn, light, finish, view, zoom, and a menu with what is used less.

   Where the bar has no room for a control, the control is in the menu. */

"use strict";

(() => {
  // Width that the bar needs to hold a control in its one row, px of a mouse's small buttons.
  const ROOM = { angle: 540, finish: 680, zoom: 780, fit: 420, photo: 480 };
  const TOUCH = 1.12; // buttons for fingers are wider by about this

  const angle = `
    <label class="angle" :title="'How far the rod is turned. Pictures kept of a whole turn: ' + picture.have + ' of ' + picture.places + ', finished ' + picture.fine">
      <svg viewBox="0 0 36 36" aria-hidden="true">
        <circle cx="18" cy="18" r="15" class="path" />
        <circle cx="18" cy="18" r="15" class="have" :stroke-dasharray="arc(picture.have)" />
        <circle cx="18" cy="18" r="15" class="fine" :stroke-dasharray="arc(picture.fine)" />
      </svg>
      <span :class="{ sr: has('angle') }" class="label">Turn in degrees</span>
      <input class="num" type="number" min="0" max="360" step="any" data-test="turn"
        :value="Math.round(picture.turn * 10) / 10" @change="picture.typeTurn" />
      <span aria-hidden="true">°</span>
    </label>`;

  const finish = `
    <fieldset class="seg" title="The wrap bare, or under its finish (D)">
      <legend class="sr">Finish shown</legend>
      <label><input type="radio" name="dry" :checked="!look.dry" data-test="finished"
        @change="set({ dry: false })" /><span>finished</span></label>
      <label><input type="radio" name="dry" :checked="look.dry" data-test="dry"
        @change="set({ dry: true })" /><span>dry</span></label>
    </fieldset>`;

  const zoom = `
    <button class="btn icon" @click="picture.zoomBy(1 / 1.25)" aria-label="Further" title="Further (-)">−</button>
    <button class="btn icon" @click="picture.zoomBy(1.25)" aria-label="Nearer" title="Nearer (+)">+</button>`;

  const fit = `
    <button class="btn" @click="picture.fit" data-test="fit" title="Back to the whole of the view (F)">Fit</button>`;

  const photo = `
    <button class="btn icon" :aria-pressed="picture.photoOn" data-test="photograph"
      :aria-label="picture.photoOn ? 'The live picture' : 'Photograph'" @click="picture.photograph"
      @pointerenter="picture.forecastPhoto" @focus="picture.forecastPhoto"
      :title="'A photograph of what is seen now: light traced path by path, in place of the picture (P). ' + picture.photoTakes">
      <svg viewBox="0 0 24 24"><path d="M3 8h4l2-3h6l2 3h4v11H3zM12 9.5a4 4 0 1 1 0 8a4 4 0 0 1 0-8" /></svg>
    </button>`;

  const Viewbar = {
    inject: ["picture"],
    data: () => ({ more: false, room: ROOM.zoom }),
    computed: {
      look() {
        return this.picture.look;
      },
      backdropKind() {
        return /^#[0-9a-fA-F]{6}$/.test(this.look.backdrop) ? "colour" : this.look.backdrop;
      },
    },
    mounted() {
      const touch = window.matchMedia("(pointer: coarse)");
      const fit = () => {
        if (this.$el) this.room = this.$el.clientWidth / (touch.matches ? TOUCH : 1);
      };
      // In the next frame: a row that changes while it is measured is an error to browsers.
      this.sizes = new ResizeObserver(() => requestAnimationFrame(fit));
      this.sizes.observe(this.$el);
    },
    unmounted() {
      this.sizes.disconnect();
    },
    methods: {
      has(control) {
        return this.room >= ROOM[control];
      },
      arc(pictures) {
        const length = 2 * Math.PI * 15;
        return `${(length * pictures) / this.picture.places} ${length}`;
      },
      set(changes, moving = false) {
        this.picture.set(changes, moving);
      },
      slide(name, event) {
        if (this.picture.ownDrawn) this.set({ [name]: Number(event.target.value) }, true);
      },
      keep() {
        this.picture.ask("pic_keep", []);
        this.more = false;
      },
      left(event) {
        if (!event.currentTarget.contains(event.relatedTarget) && event.relatedTarget) {
          this.more = false;
        }
      },
    },
    template: `
      <div class="viewbar" role="toolbar" aria-label="How the rod is looked at">
        <button class="btn icon" :aria-pressed="picture.spinning" @click="picture.spin" data-test="spin"
          :aria-label="picture.spinning ? 'Stop the rod' : 'Spin the rod'" title="Spin the rod about its axis (Space)">
          <svg viewBox="0 0 24 24"><path d="M20 12a8 8 0 1 1-2.6-5.9M20 3v4.5h-4.5" /></svg>
        </button>
        <template v-if="has('angle')">${angle}</template>
        <label class="choose"><span class="sr">Light</span>
          <select class="pick" :value="look.light" data-test="light"
            title="The light that the rod is seen in (L)"
            @change="set({ light: $event.target.value })">
            <option v-for="light in picture.lights" :key="light">{{ light }}</option>
          </select></label>
        <template v-if="has('photo')">${photo}</template>
        <template v-if="has('finish')">${finish}</template>
        <label class="choose"><span class="sr">View</span>
          <select class="pick" :value="look.view" data-test="view"
            title="Where the camera stands (V)" @change="picture.lookFrom($event.target.value)">
            <option v-for="view in picture.views" :key="view" :value="view">{{ view }}</option>
          </select></label>
        <template v-if="has('zoom')">${zoom}</template>
        <button class="btn icon" :aria-pressed="picture.unrolled" aria-label="The wrap unrolled" data-test="unroll"
          title="The wrap unrolled, flat" @click="picture.showUnrolled(!picture.unrolled)">
          <svg viewBox="0 0 24 24"><path d="M3 6h18v12H3zM3 14l6-8M7 18l9-12M14 18l7-10" /></svg>
        </button>
        <template v-if="has('fit')">${fit}</template>
        <div class="morebox" @focusout="left" @keydown.esc="more = false">
          <button class="btn" :aria-expanded="more" @click="more = !more" data-test="more"
            title="Light and card, walking round, keeping this view">More</button>
          <div v-if="more" class="menu" role="group" aria-label="More about the view">
            <div class="row" v-if="!has('angle')">${angle}</div>
            <div class="row" v-if="!has('finish')">${finish}</div>
            <div class="row" v-if="!has('zoom')"><span class="label">Zoom</span>${zoom}<template v-if="!has('fit')">${fit}</template></div>
            <div class="row" v-if="!has('photo')"><span class="label">Photograph</span>${photo}</div>
            <label class="field"><span class="label">Paths through each pixel of a photograph</span>
              <select class="pick" :value="picture.photoCount" data-test="photo-paths" @focus="picture.forecastPhoto"
                @pointerenter="picture.forecastPhoto" @change="picture.choosePaths(Number($event.target.value))">
                <option v-for="paths in picture.photoPaths" :key="paths">{{ paths }}</option>
              </select>
              <span class="soft" role="status" data-test="photo-takes" v-if="picture.photoTakes">{{ picture.photoTakes }}</span></label>
            <label class="field"><span class="label">Turn the light round the rod, degrees</span>
              <input class="slider" type="range" min="-180" max="180" step="5" :value="picture.own.light_turn"
                @input="slide('light_turn', $event)"
                @change="set({ light_turn: Number($event.target.value) })" /></label>
            <label class="field"><span class="label">Exposure, stops</span>
              <input class="slider" type="range" min="-4" max="4" step="0.5" :value="picture.own.exposure"
                @input="slide('exposure', $event)"
                @change="set({ exposure: Number($event.target.value) })" /></label>
            <label class="check" title="Darker where bright thread would burn out; the same all round the rod"><input type="checkbox" :checked="look.hold_highlights"
                data-test="hold-highlights" @change="set({ hold_highlights: $event.target.checked })" />
              <span>Hold the highlights of bright thread</span></label>
            <label class="field"><span class="label">Under the rod</span>
              <select class="pick" :value="look.ground" data-test="ground"
                @change="set({ ground: $event.target.value })">
                <option v-for="ground in picture.grounds" :key="ground">{{ ground }}</option>
              </select></label>
            <label v-if="look.ground === 'card'" class="field"><span class="label">Card behind the rod</span>
              <select class="pick" :value="backdropKind"
                @change="set({ backdrop: $event.target.value === 'colour' ? '#5a6b70' : $event.target.value })">
                <option>dark</option><option>light</option><option>colour</option>
              </select></label>
            <label v-if="look.ground === 'card' && backdropKind === 'colour'" class="field"><span class="label">Colour of the card</span>
              <input type="color" :value="look.backdrop"
                @change="set({ backdrop: $event.target.value })" /></label>
            <div class="row" role="group" aria-label="Walk round the rod">
              <span class="label">Walk round</span>
              <button class="btn icon" @click="picture.walkBy(-15, 0)" aria-label="Towards the butt">←</button>
              <button class="btn icon" @click="picture.walkBy(15, 0)" aria-label="Towards the tip">→</button>
              <button class="btn icon" @click="picture.walkBy(0, 12)" aria-label="Higher">↑</button>
              <button class="btn icon" @click="picture.walkBy(0, -12)" aria-label="Lower">↓</button>
            </div>
            <label class="field"><span class="label">The picture is drawn by</span>
              <select class="pick" :value="picture.drawer" data-test="drawer"
                @change="picture.chooseDrawer($event.target.value)">
                <option value="auto">whichever is faster</option>
                <option value="browser">this browser</option>
                <option value="program">Turnlight’s program</option>
              </select></label>
            <p v-if="picture.drawnBy" class="note" data-test="drawn-by">{{ picture.drawnBy }}</p>
            <button v-if="picture.edit" class="btn" @click="keep" data-test="keep"
              title="Write this light, camera and turn into the design file">Keep this view in the design</button>
            <p class="note for-mouse">Drag across the rod to turn it, along it to move along; with Shift a drag
              walks round. The wheel zooms to the pointer, a double click shows the whole.</p>
            <p class="note for-touch">One finger across the rod turns it, along it moves along. Two fingers zoom
              and walk round. Two taps show the whole.</p>
          </div>
        </div>
      </div>`,
  };

  window.turnlight_viewbar = {
    install(app) {
      app.component("tl-viewbar", Viewbar);
    },
  };
})();
