// The designs that go into a file, in the dialog of what is sent: several are ticked, or one is picked.
(() => {
  const Designs = {
    inject: ["trame"],
    props: { designs: Array, several: Boolean, full: String, kind: String },
    computed: {
      legend() {
        return { "spin page": "In the customer’s page", comparison: "One above the other" }[this.kind] || "Made of";
      },
      count() {
        return this.designs.filter((one) => one.chosen).length;
      },
      letters() {
        // As on the customer's page.
        return Object.fromEntries(this.designs.filter((one) => one.chosen).map((one, at) => [one.key, "ABCD"[at]]));
      },
    },
    mounted() {
      this.trame.trigger("send_look", [true]);
    },
    unmounted() {
      this.trame.trigger("send_look", [false]).catch(() => {});
    },
    methods: {
      choose(one, event) {
        if (this.several) this.trame.trigger("send_tick", [one.key, event.target.checked]);
        else this.trame.trigger("send_pick", [one.key]);
      },
    },
    template: `
      <fieldset v-if="designs.length > 1" class="designs" data-test="send-designs">
        <legend class="label">{{ legend }}</legend>
        <!-- New inputs for the other kind: a ticked box that is turned into a radio button takes the tick from
          the others of its group, which the page would not know of. -->
        <label v-for="one in designs" :key="(several ? 'box ' : 'radio ') + one.key" :data-key="one.key" :title="one.words || null">
          <input :type="several ? 'checkbox' : 'radio'" name="send-design" :checked="one.chosen"
            :disabled="Boolean(one.reason || (several && full && !one.chosen && count > 3))" @change="choose(one, $event)">
          <span class="called">{{ one.label }}<template v-if="one.agreed"> (agreed)</template></span>
          <span v-if="kind === 'spin page' && count > 1 && letters[one.key] && !one.label.startsWith(letters[one.key] + ': ')" class="letter" title="Its letter on the customer’s page">{{ letters[one.key] }}</span>
          <span v-if="one.reason" class="note">Does not go in: {{ one.reason }}</span>
          <span v-else-if="one.words && !one.label.endsWith(one.words)" class="note words">{{ one.words }}</span>
        </label>
        <p v-if="full" class="note">{{ full }}</p>
      </fieldset>`,
  };

  window.turnlight_send = {
    install(app) {
      app.component("tl-designs", Designs);
    },
  };
})();
