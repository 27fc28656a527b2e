/* Components that the page's parts share: a dialog, the notice of a lost connection, the title. */

"use strict";

const SILENCE = 9000; // ms after which the page says that it hears nothing; the program's beat is 3 s

/** Times as the clock of this browser shows them, alike on the whole page. */
window.turnlight_clock = {
  time: (date) => date.toLocaleTimeString(),
  moment: (date) => `${date.toLocaleDateString([], { day: "numeric", month: "long" })}, ${date.toLocaleTimeString()}`,
};

window.turnlight_page = {
  install(app) {
    // A modal dialog; Esc closes it.
    app.component("tl-dialog", {
      props: { open: Boolean, label: String, wide: Boolean },
      emits: ["close"],
      watch: {
        open() {
          this.sync();
        },
      },
      mounted() {
        this.sync();
      },
      methods: {
        sync() {
          const dialog = this.$refs.dialog;
          if (this.open && !dialog.open) {
            dialog.showModal();
          } else if (!this.open && dialog.open) {
            dialog.close();
          }
        },
      },
      template: `
        <dialog ref="dialog" :class="{ dialog: true, wide }" :aria-label="label"
                @cancel.self.prevent="$emit('close')" @close="open && $emit('close')">
          <h2>{{ label }}</h2>
          <slot v-if="open"></slot>
        </dialog>`,
    });

    // Shown in place of the page when the connection is lost.
    app.component("tl-lost", {
      inject: ["trame"],
      data: () => ({ strange: false }),
      computed: {
        own() {
          return this.trame.state.get("may_own");
        },
      },
      mounted() {
        window.turnlight_leaving = true;
        this.timer = setInterval(async () => {
          try {
            const answer = await fetch(".", { cache: "no-store" });
            if (answer.ok) {
              location.reload();
            } else if (answer.status === 403) {
              // Another run of the program answers, which does not know this browser.
              this.strange = true;
              clearInterval(this.timer);
            }
          } catch {
            // Still not reachable.
          }
        }, 1500);
      },
      unmounted() {
        clearInterval(this.timer);
      },
      template: `
        <main class="lost" data-test="lost">
          <h1 class="wordmark">No connection to Turnlight</h1>
          <template v-if="strange">
            <p v-if="own">Turnlight has been started again: go on in the tab that it has just opened, where work that was
              not saved is offered, and close this one.</p>
            <p v-else>Turnlight was started again, and this address is used up. Ask whoever shares the page for the
              new one.</p>
          </template>
          <template v-else>
            <p>If only the connection was interrupted, this page comes back by itself.</p>
            <p v-if="own">If Turnlight has ended, start it again: it opens a new tab, where work that was not saved is
              offered; this one stays as it is and can be closed.</p>
            <p v-else>If Turnlight has ended, this address is used up: when it has been started again, ask whoever
              shares the page for the new one.</p>
          </template>
        </main>`,
    });

    // Says that the program has been silent for too long, though the connection is not closed.
    app.component("tl-unheard", {
      inject: ["trame"],
      data: () => ({ since: "" }),
      mounted() {
        this.session = this.trame.client.getConnection().getSession();
        this.beats = this.session.subscribe("turnlight.beat", () => {});
        this.timer = setInterval(() => {
          const silence = performance.now() - window.turnlight_heard;
          if (silence < SILENCE) this.since = "";
          else if (!this.since) this.since = window.turnlight_clock.time(new Date(Date.now() - silence));
        }, 1000);
      },
      unmounted() {
        clearInterval(this.timer);
        this.session.unsubscribe(this.beats);
      },
      template: `
        <strong v-if="since" role="alert" data-test="unheard">Nothing has been heard from Turnlight since {{ since }};
          the picture may be out of date, and changes may not arrive.</strong>`,
    });

    // Invisible: sets the window's title, and asks before a page with unsaved work is left.
    app.component("tl-title", {
      props: { title: String, changed: Boolean },
      created() {
        this.confirmLeaving = (event) => {
          if (this.changed && !window.turnlight_leaving) {
            event.preventDefault();
          }
        };
        window.addEventListener("beforeunload", this.confirmLeaving);
      },
      unmounted() {
        window.removeEventListener("beforeunload", this.confirmLeaving);
      },
      watch: {
        title: { handler: "show", immediate: true },
        changed: "show",
      },
      methods: {
        show() {
          document.title = `${this.changed ? "● " : ""}${this.title || ""} – Turnlight`;
        },
      },
      template: `<span hidden></span>`,
    });
  },
};
