/* Components that the page's parts share: a dialog, the notice of a lost connection, the title. */

"use strict";

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
                @cancel.prevent="$emit('close')">
          <h2>{{ label }}</h2>
          <slot v-if="open"></slot>
        </dialog>`,
    });

    // Shown in place of the page when the connection is lost.
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
          <p>This page comes back by itself as soon as Turnlight answers again at this address.</p>
          <p class="note">If Turnlight has ended, start it anew: what was not saved is kept, and is offered then.</p>
        </main>`,
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
