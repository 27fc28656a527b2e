// The rod drawn by this browser, in place of pictures that were drawn before. Nothing here is needed:
// where it cannot be drawn, or not fast enough, or its memory is taken away, pictures stand in.

const SLOW = 400; // ms for a quick picture at its smallest, beyond which pictures are better
const BRISK = 40; // ms that a quick picture may take; it is made smaller until it does
const SMALLEST = 0.35; // share of the canvas's width that a quick picture has at least
const STILL_AFTER = 160; // ms without a change, after which the fine picture is drawn
const MOST_LOSSES = 3; // of the context: more than that is a device without memory for it
const MOST_PIXELS = 4e6; // of the canvas, for the sake of memory

// canvas: to draw in. model: as render/browser/model.py makes it. view(): what to show, without size
// and quality. changed(state): called with "drawn" after each picture, "away" while there is nothing
// to draw with, and with "none" when it gives up. Returns show(), which draws soon, and active().
function modelView(canvas, model, view, changed) {
  const forced = location.hash === "#model"; // draw however slowly: for tests and for curiosity
  let drawing = null, given = location.hash === "#pictures";
  let preparing = "", prepared = "", share = 1, losses = 0;
  let scheduled = false, still = 0;

  function giveUp(why) {
    given = true;
    drawing = null;
    clearTimeout(still);
    changed("none", why);
  }

  function sized(quality) {
    const ratio = Math.min(window.devicePixelRatio || 1, 2);
    const asked = [canvas.clientWidth, canvas.clientHeight].map((side) => Math.max(side * ratio, 1));
    const shrunk = Math.min(1, Math.sqrt(MOST_PIXELS / (asked[0] * asked[1])));
    const preview = Number(quality === "quick");
    const factor = shrunk * (preview ? share : 1);
    const [width, height] = asked.map((side) => Math.max(1, Math.round(side * factor)));
    // Dots too small to be told apart need no finer picture behind them.
    const samples = !preview && ratio < 1.5 && share === 1 ? 2 : 1;
    const what = view();
    return { ...what, width, height, samples, preview, scale: (what.scale * width) / canvas.clientWidth };
  }

  const wanted = () => {
    const { design, finished, light } = view();
    return `${design} ${finished} ${light}`;
  };

  // Makes ready what the view needs; other views are not drawn meanwhile.
  async function prepare() {
    const key = wanted();
    if (preparing || prepared === key || !drawing) return;
    preparing = key;
    const mine = drawing;
    try {
      await mine.ready(view());
      prepared = key;
    } catch (error) {
      if (mine === drawing) giveUp(String(error));
    } finally {
      preparing = "";
      show();
    }
  }

  function timed() {
    const begun = performance.now();
    drawing.draw(sized("quick"));
    drawing.finish();
    return performance.now() - begun;
  }

  // The first picture compiles the shaders; the second tells how fast this device draws.
  function pace() {
    timed();
    for (let tries = 0; tries < 4; tries += 1) {
      const took = timed();
      if (took <= BRISK) return true;
      if (share <= SMALLEST) return took <= SLOW || forced;
      share = Math.max(SMALLEST, share * Math.sqrt(BRISK / took));
    }
    return true;
  }

  async function begin() {
    try {
      const made = given ? null : await drawingOf(canvas, model);
      if (!made) {
        giveUp(given ? "asked for" : "no WebGL2");
        return;
      }
      drawing = made;
      prepared = "";
      await prepare();
      if (given || !drawing) return;
      if (!pace()) giveUp("slow"); else show();
    } catch (error) {
      giveUp(String(error));
    }
  }

  function draw(quality) {
    drawing.draw(sized(quality));
    canvas.dataset.quality = quality;
    changed("drawn");
  }

  function show() {
    if (scheduled || !drawing || given) return;
    scheduled = true;
    requestAnimationFrame(() => {
      scheduled = false;
      if (!drawing || given || !canvas.clientWidth) return;
      if (prepared !== wanted()) {
        prepare();
        return;
      }
      if (preparing) return;
      draw("quick");
      clearTimeout(still);
      still = setTimeout(() => {
        if (drawing && !preparing && prepared === wanted()) draw("fine");
      }, STILL_AFTER);
    });
  }

  canvas.addEventListener("webglcontextlost", (event) => {
    event.preventDefault(); // it may come back
    clearTimeout(still);
    drawing = null;
    losses += 1;
    changed("away");
    if (losses > MOST_LOSSES) giveUp("lost");
  });
  canvas.addEventListener("webglcontextrestored", () => { if (!given) begin(); });
  begin();
  return { show, active: () => drawing !== null && !given && prepared !== "" };
}
