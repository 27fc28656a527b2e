// A thread's colour from a photograph of its spool beside a card: marked here, computed by the program.
(() => {
  const PLACES = ["card", "thread"];
  const SIDES = ["left", "top", "width", "height"];
  const CARDS = [
    { value: "0.18", label: "grey, 18 %" },
    { value: "0.9", label: "white, about 90 %" },
    { value: "", label: "another" },
  ];
  const NOTHING = { left: "", top: "", width: "", height: "" };

  /** Screen pixels; a shorter drag is a click, which marks a square. */
  const CLICK = 6;
  /** Side of that square as a share of the longer side of the photograph. */
  const SPOT = 1 / 25;

  const within = (value, low, high) => Math.min(Math.max(value, low), high);
  const isGiven = (mark) => SIDES.every((side) => mark[side] !== "");
  const typed = (mark) => SIDES.map((side) => mark[side]).join(",");

  const Photograph = {
    inject: ["trame"],
    props: { name: String, kind: String, kinds: Array, threads: Array },
    emits: ["kind", "use"],
    data: () => ({
      open: false,
      photo: null,
      sending: false,
      over: false,
      refused: "",
      marks: { card: { ...NOTHING }, thread: { ...NOTHING } },
      marking: "card",
      from: null,
      drawn: null,
      card: "0.18",
      other: "",
      lamp: "",
      kelvin: "",
      like: "",
      reading: null,
      answeredAddress: "",
      busy: false,
      places: PLACES,
      sides: SIDES,
      cards: CARDS,
    }),
    computed: {
      most() {
        return this.trame.state.get("photograph_most");
      },
      seen() {
        return this.photo && `photograph/${this.photo.number}`;
      },
      shape() {
        return this.photo && { "--ratio": this.photo.width / this.photo.height };
      },
      view() {
        return `0 0 ${this.photo.width} ${this.photo.height}`;
      },
      boxes() {
        return PLACES.map((place) => ({
          place,
          ...(this.drawn && place === this.marking ? this.drawn : this.marks[place]),
        })).filter(isGiven);
      },
      hinted() {
        return this.lamp === "incandescent" || this.lamp === "LED";
      },
      metallic() {
        return this.kind === "metallic";
      },
      likely() {
        return this.threads.filter((thread) => thread.kind === this.kind);
      },
      /** Address of the request for the colour; empty until both places are marked. */
      requestAddress() {
        const { card, thread } = this.marks;
        if (!this.photo || !isGiven(card) || !isGiven(thread)) return "";
        return `${this.seen}/colour?${new URLSearchParams({
          thread: typed(thread),
          card: typed(card),
          "card-reflectance": this.card || this.other || "0",
          lamp: this.lamp,
          kelvin: this.hinted ? this.kelvin : "",
          kind: this.kind,
          name: this.name,
          like: this.metallic ? this.like : "",
        })}`;
      },
      fresh() {
        return Boolean(this.requestAddress) && this.answeredAddress === this.requestAddress;
      },
      found() {
        return this.reading && !this.reading.problem ? this.reading : null;
      },
      wrong() {
        return this.reading && this.reading.problem ? this.reading.field : "";
      },
      next() {
        if (!isGiven(this.marks.card)) return "Drag over a part of the card, or click it.";
        if (!isGiven(this.marks.thread)) return "Now over thread, where it shows no shine.";
        return "Drag anew to mark another place, or type its pixels.";
      },
    },
    watch: {
      requestAddress() {
        this.read();
      },
    },
    methods: {
      close() {
        this.open = false;
        this.reset();
      },
      reset() {
        if (this.photo) this.discard(this.photo);
        this.photo = this.reading = this.from = this.drawn = null;
        this.marks = { card: { ...NOTHING }, thread: { ...NOTHING } };
        this.marking = "card";
        this.refused = this.answeredAddress = "";
      },
      discard(photo) {
        window.turnlight_fetch(`photograph/${photo.number}`, { method: "DELETE" }).catch(() => {});
      },
      use() {
        this.$emit("use", this.found.colour);
        this.close();
      },
      /** Keep undo and redo keys from the page behind the dialog. */
      key(event) {
        if ((event.ctrlKey || event.metaKey) && "zyZY".includes(event.key)) event.stopPropagation();
      },
      chosen(event) {
        const file = event.target.files[0];
        // So that choosing the same file again fires an event.
        event.target.value = "";
        this.upload(file);
      },
      dropped(event) {
        this.over = false;
        this.upload(event.dataTransfer.files[0]);
      },
      async upload(file) {
        if (!file || this.sending) return;
        this.reset();
        if (file.size > this.most.bytes) {
          this.refused = `"${file.name}" is larger than ${this.most.bytes / 1e6} MB; give a smaller one.`;
          return;
        }
        this.sending = true;
        try {
          const where = new URLSearchParams({ name: file.name });
          const response = await window.turnlight_fetch(`photograph?${where}`, { method: "POST", body: file });
          const answer = await response.json();
          this.refused = answer.problem;
          if (!answer.problem && this.open) this.photo = answer;
          else if (!answer.problem) this.discard(answer);
        } catch {
          this.refused = "The photograph could not be sent; try again.";
        }
        this.sending = false;
      },
      /** Position of a pointer, in pixels of the photograph. */
      at(event) {
        const box = this.$refs.picture.getBoundingClientRect();
        const { width, height } = this.photo;
        return {
          x: within(Math.round(((event.clientX - box.left) / box.width) * width), 0, width),
          y: within(Math.round(((event.clientY - box.top) / box.height) * height), 0, height),
          finger: (CLICK / box.width) * width,
        };
      },
      hold(event) {
        if (event.button || !this.photo) return;
        event.currentTarget.setPointerCapture(event.pointerId);
        this.from = this.at(event);
      },
      drag(event) {
        if (this.from) this.drawn = this.between(this.from, this.at(event));
      },
      between(a, b) {
        const width = Math.abs(a.x - b.x), height = Math.abs(a.y - b.y);
        if (Math.max(width, height) < a.finger) return this.spot(a);
        return { left: Math.min(a.x, b.x), top: Math.min(a.y, b.y), width, height };
      },
      spot(at) {
        const { width, height } = this.photo;
        const side = Math.min(Math.max(Math.round(SPOT * Math.max(width, height)), 12), width, height);
        return {
          left: within(Math.round(at.x - side / 2), 0, width - side),
          top: within(Math.round(at.y - side / 2), 0, height - side),
          width: side,
          height: side,
        };
      },
      drop(event) {
        if (!this.from) return;
        this.marks[this.marking] = this.between(this.from, this.at(event));
        this.from = this.drawn = null;
        const missing = PLACES.find((place) => !isGiven(this.marks[place]));
        if (missing) this.marking = missing;
      },
      cancelDrag() {
        this.from = this.drawn = null;
      },
      /** Request the colour; while a request is under way only the newest one waits. */
      async read() {
        if (this.busy) return;
        this.busy = true;
        while (this.requestAddress && this.requestAddress !== this.answeredAddress) {
          const { requestAddress } = this;
          let reading;
          try {
            reading = await (await window.turnlight_fetch(requestAddress)).json();
          } catch {
            reading = { problem: "The program gave no answer; choose the photograph again.", field: "" };
          }
          this.answeredAddress = requestAddress;
          this.reading = reading;
        }
        if (!this.requestAddress) this.reading = null;
        this.busy = false;
      },
      /** Side of a marked rectangle on which its label has room. */
      side({ top, height }) {
        if (top > 0.1 * this.photo.height) return "above";
        return top + height < 0.9 * this.photo.height ? "below" : "inside";
      },
      share(of, whole) {
        return `${(100 * of) / whole}%`;
      },
      invalid(...fields) {
        return fields.includes(this.wrong) ? "true" : null;
      },
    },
    template: `
      <div class="from-photograph">
        <button type="button" class="btn" aria-haspopup="dialog" @click="open = true">From a photograph…</button>
        <Teleport to="body">
          <tl-dialog :open="open" label="Colour from a photograph" wide @close="close">
            <div class="photograph" :class="{ over }" data-test="photograph" @keydown="key"
                @dragover.prevent="over = true" @dragleave="over = false" @drop.prevent="dropped">
              <p class="soft" v-if="!photo">Photograph the spool by a window, with a grey or white card close beside it that faces as it faces.
                The photograph is looked at here and not kept.</p>
              <div class="upload">
                <label class="btn" :class="{ off: sending, main: !photo && !sending }">
                  <input type="file" class="sr" accept="image/jpeg,image/png,image/webp" :disabled="sending"
                    @change="chosen">{{ sending ? 'Being looked at …' : photo ? 'Another photograph…' : 'Choose a photograph…' }}</label>
                <span class="soft" v-if="!photo">or drop one here: JPEG, PNG or WebP, {{ most.bytes / 1e6 }} MB and {{ most.pixels / 1e6 }} megapixels at most</span>
                <fieldset class="choice" v-if="photo"><legend class="sr">What is marked next</legend>
                  <div class="seg"><label v-for="place in places" :key="place">
                    <input type="radio" name="photograph-marking" :value="place" v-model="marking"><span>Mark the {{ place }}</span></label></div>
                </fieldset>
                <p class="soft" role="status" v-if="photo">{{ next }}</p>
              </div>
              <p class="problem" role="alert" v-if="refused">{{ refused }}</p>
              <div class="marking" v-if="photo">
                <div>
                  <div class="photo" ref="picture" :style="shape" data-test="photo" @pointerdown="hold" @pointermove="drag"
                      @pointerup="drop" @pointercancel="cancelDrag">
                    <img :src="seen" alt="The photograph, on which card and thread are marked" draggable="false">
                    <svg :viewBox="view" preserveAspectRatio="none" aria-hidden="true">
                      <g v-for="box in boxes" :key="box.place" :class="{ at: box.place === marking }">
                        <rect class="under" :x="box.left" :y="box.top" :width="box.width" :height="box.height" />
                        <rect :x="box.left" :y="box.top" :width="box.width" :height="box.height" />
                      </g>
                    </svg>
                    <span class="mark" v-for="box in boxes" :key="box.place" aria-hidden="true"
                      :class="side(box)"
                      :style="{ '--left': share(box.left, photo.width), top: share(side(box) === 'below' ? box.top + box.height : box.top, photo.height) }">{{ box.place }}</span>
                  </div>
                  <p class="soft">Where they are, in pixels of {{ photo.width }} × {{ photo.height }}:</p>
                  <div class="pixels" v-for="place in places" :key="place" role="group" :aria-labelledby="'photograph-' + place">
                    <span :id="'photograph-' + place">{{ place }}</span>
                    <label v-for="side in sides" :key="side"><span>{{ side }}</span>
                      <input class="num" type="number" min="0" step="1" inputmode="numeric" data-typed="yes" :name="place + '-' + side"
                        :aria-invalid="invalid(place)" v-model.lazy="marks[place][side]"></label>
                  </div>
                </div>
                <div class="read">
                  <label><span>Kind of thread</span><select class="select" name="kind" :value="kind" @change="$emit('kind', $event.target.value)">
                    <option v-for="option in kinds" :key="option">{{ option }}</option></select></label>
                  <label v-if="metallic"><span>As light as</span><select class="select" name="like" v-model="like">
                    <option value="">where it is marked</option>
                    <option v-for="thread in likely" :key="thread.name">{{ thread.name }}</option></select></label>
                  <label><span>Card</span><select class="select" name="card" v-model="card">
                    <option v-for="option in cards" :key="option.value" :value="option.value">{{ option.label }}</option></select></label>
                  <label v-if="!card"><span>Its reflectance, 0 to 1</span>
                    <input class="num" type="text" inputmode="decimal" autocomplete="off" name="other" data-typed="yes"
                      :aria-invalid="invalid('card-reflectance')" v-model.lazy="other"></label>
                  <label><span>Lamp</span><select class="select" name="lamp" v-model="lamp" :aria-invalid="invalid('lamp')">
                    <option value="">not known</option><option value="daylight">daylight</option>
                    <option value="incandescent">incandescent</option><option value="LED">LED</option></select></label>
                  <label v-if="hinted"><span>Printed on it, kelvin</span>
                    <input class="num" type="text" inputmode="numeric" autocomplete="off" name="kelvin" data-typed="yes" placeholder="–"
                      :aria-invalid="invalid('kelvin')" v-model.lazy="kelvin"></label>
                  <div class="found" aria-live="polite" :aria-busy="requestAddress && !fresh ? 'true' : 'false'" data-test="found">
                    <p class="problem" v-if="reading && reading.problem">{{ reading.problem }}</p>
                    <template v-if="found">
                      <div class="before-after">
                        <figure><div :style="{ background: found.before }"></div><figcaption>as photographed<br>{{ found.before }}</figcaption></figure>
                        <figure><div :style="{ background: found.colour }"></div><figcaption>by the card<br>{{ found.colour }}</figcaption></figure>
                      </div>
                      <p v-for="text in found.result" :key="text">{{ text }}</p>
                      <p class="warning" v-for="text in found.warnings" :key="text">{{ text }}</p>
                      <p class="soft" v-if="found.near">{{ found.near }}</p>
                    </template>
                    <p class="soft" v-if="requestAddress && !fresh">Being read …</p>
                  </div>
                </div>
              </div>
              <div class="choices">
                <button type="button" class="btn main" v-if="photo" :disabled="!found || !fresh" @click="use">Use this colour</button>
                <button type="button" class="btn" @click="close">Leave it</button>
              </div>
            </div>
          </tl-dialog>
        </Teleport>
      </div>`,
  };

  window.turnlight_photographs = {
    install(app) {
      app.component("tl-photograph", Photograph);
    },
  };
})();
