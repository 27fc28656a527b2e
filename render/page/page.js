/* What the page's parts share in the browser: a dialog, the lost connection, the window's title. */

"use strict";

window.turnlight_page = {
  install(app) {
    // A dialog that holds the keyboard until it is closed; Esc closes it.
    app.component("tl-dialog", {
      props: { open: Boolean, label: String, wide: Boolean },
      emits: ["close"],
      watch: {
        open() {
          this.follow();
        },
      },
      mounted() {
        this.follow();
      },
      methods: {
        follow() {
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
                @cancel.prevent="$emit('close')">
          <h2>{{ label }}</h2>
          <slot v-if="open"></slot>
        </dialog>`,
    });

    // Shown in place of everything when the connection is gone.
    app.component("tl-lost", {
      mounted() {
        window.turnlight_leaving = true;
        this.timer = setInterval(async () => {
          try {
            const answer = await fetch(".", { cache: "no-store" });
            if (answer.ok) {
              location.reload();
            }
          } catch {
            // Still gone.
          }
        }, 1500);
      },
      unmounted() {
        clearInterval(this.timer);
      },
      template: `
        <main class="lost" data-test="lost">
          <h1 class="wordmark">No connection to Turnlight</h1>
          <p>This page comes back by itself as soon as Turnlight answers again at this address.</p>
          <p class="note">If Turnlight has ended, start it anew: what was not saved is kept, and is offered then.</p>
        </main>`,
    });

    // Nothing to see: keeps the window's title, and asks before unsaved work is left.
    app.component("tl-title", {
      props: { title: String, changed: Boolean },
      created() {
        this.ask = (event) => {
          if (this.changed && !window.turnlight_leaving) {
            event.preventDefault();
          }
        };
        window.addEventListener("beforeunload", this.ask);
      },
      unmounted() {
        window.removeEventListener("beforeunload", this.ask);
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
