// The guides of the rod as a list: place, foot and ring in lines, to edit or to paste.
(() => {
  const GuideList = {
    props: { list: Object },
    data: () => ({ id: window.turnlight_fields.uniqueId("guides"), draft: null }),
    computed: {
      rows() {
        return Math.min(this.list.text.split("\n").length + 2, 16);
      },
    },
    methods: {
      toggle() {
        this.problem = "";
        this.draft = this.draft === null ? this.list.text : null;
        if (this.draft !== null) this.$nextTick(() => this.$refs.text.focus());
      },
      async put() {
        await this.editAndWait("desk_change", this.list.path, this.draft);
        if (!this.problem) this.draft = null;
        if (!this.problem) this.$refs.button.focus();
      },
    },
    template: `
      <div class="guide-list" :class="{ wrong: problem }" :data-path="list.path">
        <button type="button" class="btn quiet" ref="button" :aria-expanded="draft !== null ? 'true' : 'false'"
          @click="toggle">{{ draft === null ? "Guides as a list…" : "Leave the guides as they are" }}</button>
        <form class="group" v-if="draft !== null" @submit.prevent="put" novalidate>
          <label :for="id">Guides, from butt to tip</label>
          <textarea :id="id" ref="text" class="text" :rows="rows" spellcheck="false" v-model="draft"
            :aria-describedby="id + '-hint'" :aria-invalid="problem ? 'true' : null"></textarea>
          <span class="soft" :id="id + '-hint'">In each line the distance from the butt to the middle of the foot, the
            length of the foot and, if you like, the diameter of the ring; or paste these columns of a spreadsheet.
            Guides stay bound as they are, counted from the butt, and further ones are bound like the last.</span>
          <p class="problem" role="alert" v-if="problem">{{ problem }}</p>
          <div class="row-buttons"><button type="submit" class="btn">Put the guides so</button></div>
        </form>
      </div>`,
  };

  window.turnlight_guides = {
    install(app) {
      app.component("tl-guide-list", { ...GuideList, mixins: [window.turnlight_fields.changing] });
    },
  };
})();
