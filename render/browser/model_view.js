"use strict";
// A canvas that shows a model: coarsely while something moves, finely when it is still. Where it
// cannot be drawn, or not fast enough, or its memory is taken away, it gives up, and pictures that
// were drawn elsewhere stand in.

const SLOW = 400; // ms for a quick picture at its smallest, beyond which pictures are better
const SMALLEST = 0.35; // share of the canvas's width that a quick picture has at least
const STILL_AFTER = 160; // ms without a change, after which the fine picture is drawn

// The name of what draws, as the browser gives it; may be empty.
function rendererOf(gl) {
  const info = gl.getExtension("WEBGL_debug_renderer_info");
  return String(gl.getParameter(info ? info.UNMASKED_RENDERER_WEBGL : gl.RENDERER) || "");
}

// Whether a renderer of that name is a program, which draws more slowly than ours.
const isSoftware = (name) => /swiftshader|llvmpipe|softpipe|software|basic render/i.test(name);

// open(): gives a promise of drawingOf's drawing, or of null.
// view(): what to show, without size and quality; null while there is nothing yet. Views with the same
//   `key` need the same things made ready.
// fit(view, size): the view for a canvas of that width, height, samples and preview.
// changed(state, why): called with "drawn" after each picture, "away" while there is nothing to draw
//   with, and "none" when it gives up.
// forced: draw however slowly. brisk: ms that a quick picture may take; it is made smaller until it
// does. mostPixels: of the canvas, for the sake of memory. mostLosses: of the context, more than which
// is a device without memory for it.
// Returns show(), which draws soon; active(); stop(), which gives up; timings of the first pictures.
function modelView(
  canvas, { open, view, fit, changed, forced, brisk, mostPixels, mostLosses },
) {
  let drawing = null, given = false, first = true;
  let preparing = null, prepared = null, missed = null, share = 1, losses = 0;
  let scheduled = false, still = 0;
  const timings = [];

  function giveUp(why) {
    if (given) return;
    given = true;
    drawing = null;
    clearTimeout(still);
    changed("none", why);
  }

  function sized(quality) {
    const ratio = Math.min(window.devicePixelRatio || 1, 2);
    const asked = [canvas.clientWidth, canvas.clientHeight].map((side) => Math.max(side * ratio, 1));
    const shrunk = Math.min(1, Math.sqrt(mostPixels / (asked[0] * asked[1])));
    const preview = Number(quality === "quick");
    const factor = shrunk * (preview ? share : 1);
    const [width, height] = asked.map((side) => Math.max(1, Math.round(side * factor)));
    // Dots too small to be told apart need no finer picture behind them.
    const samples = !preview && ratio < 1.5 && share === 1 ? 2 : 1;
    return fit(view(), { width, height, samples, preview });
  }

  // Makes ready what the view needs; what was ready before is drawn meanwhile.
  async function prepare() {
    const what = view();
    if (preparing !== null || !drawing || what === null) return;
    if (prepared === what.key || missed === what.key) return;
    preparing = what.key;
    const mine = drawing;
    try {
      await mine.ready(what);
      if (mine === drawing) prepared = what.key;
    } catch (error) {
      // What is no longer to be had is followed by something newer.
      if (error.passing) missed = what.key;
      else if (mine === drawing) giveUp(String(error));
    } finally {
      preparing = null;
    }
    if (mine === drawing) show();
  }

  function timed() {
    const begun = performance.now();
    drawing.draw(sized("quick"));
    drawing.finish();
    timings.push(performance.now() - begun);
    return timings.at(-1);
  }

  // The first picture compiles the shaders; the second tells how fast this device draws.
  function pace() {
    first = false;
    timed();
    for (let tries = 0; tries < 4; tries += 1) {
      const took = timed();
      if (took <= brisk) return true;
      if (share <= SMALLEST) return took <= SLOW || forced;
      share = Math.max(SMALLEST, share * Math.sqrt(brisk / took));
    }
    return true;
  }

  async function begin() {
    try {
      const made = await open();
      if (given) return;
      if (!made) {
        giveUp("no WebGL2");
        return;
      }
      drawing = made;
      prepared = missed = null;
      first = true;
      await prepare();
    } catch (error) {
      giveUp(String(error));
    }
  }

  function draw(quality) {
    drawing.draw(sized(quality));
    canvas.dataset.quality = quality;
    changed("drawn", "");
  }

  function show() {
    if (scheduled || !drawing || given) return;
    scheduled = true;
    requestAnimationFrame(() => {
      scheduled = false;
      if (!drawing || given || !canvas.clientWidth) return;
      prepare();
      if (prepared === null) return;
      if (first && !pace()) {
        giveUp("slow");
        return;
      }
      draw("quick");
      clearTimeout(still);
      still = setTimeout(() => {
        if (drawing && !given && prepared !== null) draw("fine");
      }, STILL_AFTER);
    });
  }

  canvas.addEventListener("webglcontextlost", (event) => {
    event.preventDefault(); // it may come back
    if (given) return;
    clearTimeout(still);
    drawing = null;
    losses += 1;
    changed("away", "");
    if (losses > mostLosses) giveUp("lost");
  });
  canvas.addEventListener("webglcontextrestored", () => { if (!given) begin(); });
  begin();
  return {
    show,
    active: () => drawing !== null && !given && prepared !== null && !first,
    shown: () => prepared,
    stop: () => giveUp("asked for"),
    timings,
  };
}
