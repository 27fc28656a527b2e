"use strict";
// The light as the customer moves it: turned round the rod and leant along it. While its button is
// pressed, a drag and the arrow keys move the light in place of the rod.

const LIGHT_STEP = Math.PI / 36; // of a key: five degrees
const MOST_LEAN = Math.PI / 3;

// element(id): of the page. changed(): called after every change.
function movedLight(element, changed) {
  let angles = [0, 0]; // round the rod, towards the viewer, and along it, towards the tip; rad
  let active = false;
  const button = element("move-light"), reset = element("reset-light");

  function put(round, along) {
    const turned = Math.atan2(Math.sin(round), Math.cos(round));
    angles = [turned, Math.min(Math.max(along, -MOST_LEAN), MOST_LEAN)];
    reset.disabled = !moved();
    changed();
  }

  function activate(wanted) {
    active = wanted;
    button.setAttribute("aria-pressed", String(active));
    element("stage").classList.toggle("lighting", active);
    changed();
  }

  const moved = () => angles.some((angle) => Math.abs(angle) > 1e-6);
  const degrees = (angle) => `${Math.round((angle * 180) / Math.PI)}°`;
  button.addEventListener("click", () => activate(!active));
  reset.addEventListener("click", () => put(0, 0));
  return {
    put,
    activate,
    active: () => active,
    angles: () => angles,
    step: (round, along) => put(angles[0] + round * LIGHT_STEP, angles[1] + along * LIGHT_STEP),
    // In words, to be read aloud; empty where it stands as it did.
    words: () => (moved()
      ? `, light moved ${degrees(angles[0])} round the rod, ${degrees(angles[1])} along it` : ""),
  };
}
