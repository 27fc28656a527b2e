// The customer's answer: pasted here, entered in the design, and held against it since.
(() => {
  const Answer = {
    inject: ["trame"],
    props: { revision: Number },
    data: () => ({ text: "", problem: "", said: "", records: [], agreed: "", changed: "", other: "", wrap: "" }),
    mounted() {
      this.look();
    },
    methods: {
      async look() {
        Object.assign(this, await this.trame.trigger("answer_records"));
      },
      async enter() {
        this.problem = "";
        this.said = "Entering the answer…";
        // The state that the edit changes may come first, and take long: what was entered is said at once.
        const answer = await this.trame.trigger("answer_enter", [this.text]);
        this.problem = answer.problem;
        this.said = answer.said;
        if (this.problem) return;
        this.text = "";
        await this.look();
      },
      async promote() {
        // The variants on the page are those of the wrap that is worked at.
        const other = this.other;
        let answer = await this.trame.trigger("wrap_work_at", [this.wrap]);
        if (!answer.problem) answer = await this.trame.trigger("variant_promote", [other]);
        this.problem = answer.problem;
        await this.look();
      },
    },
    // Other parts change the design while the dialog is open.
    watch: {
      revision() {
        this.look();
      },
    },
    template: `
      <section class="answer" aria-label="The customer's answer">
        <h3>The customer's answer</h3>
        <p v-if="agreed">{{ agreed }}</p>
        <p v-if="changed" class="warning" data-test="answer-changed">{{ changed }}</p>
        <button v-if="other" type="button" class="btn" data-test="answer-promote"
          title="The design before is among the variants then" @click="promote">Make “{{ other }}” the design</button>
        <form @submit.prevent="enter">
          <label for="answer-text">The text that the customer has sent back</label>
          <textarea id="answer-text" class="text" rows="4" spellcheck="false" v-model="text"
            :aria-invalid="problem ? 'true' : null" @input="problem = said = ''"></textarea>
          <p class="problem" role="alert" v-if="problem">{{ problem }}</p>
          <button type="submit" class="btn" :disabled="!text.trim()">Enter it in the design</button>
          <p class="said" role="status" data-test="answer-said">{{ said }}</p>
        </form>
        <ul v-if="records.length">
          <li v-for="record in records" :key="record.date + record.number + record.scheme" :title="record.words || null">
            {{ record.date }}: {{ record.scheme }}, {{ record.number }}<template v-if="record.remark">: “{{ record.remark }}”</template>
          </li>
        </ul>
      </section>`,
  };

  window.turnlight_answer = {
    install(app) {
      app.component("tl-answer", Answer);
    },
  };
})();
