
"use strict";
(() => {
  const data = JSON.parse(document.getElementById("turns").textContent);
  const [width, height] = data.size;
  const BRISK = 40; // ms that a picture of what moves may take
  const MOST_PIXELS = 4e6; // of the canvas
  const MOST_LOSSES = 1; // of the rod's memory, until pictures stand in
  const STARTS = "turnlight-starts"; // of the drawing in this tab, since it was last left in order
  const THREADS = 22_000; // CSS pixels for the whole picture's width at which single threads are wide
  const drawable = document.getElementById("model"); // the rod itself, where the page has it
  // Steps of a turn. Pictures are one for each; the rod itself can be turned by any angle.
  const count = drawable ? data.steps : data.frames;
  const element = (id) => document.getElementById(id);
  const stage = element("stage"), canvas = element("picture"), context = canvas.getContext("2d");
  const pick = [...document.querySelectorAll("input[name=design]")];

  // ---- State
  let turn = 0; // in frames, not rounded, so that a slow drag is not lost between two of them
  let design = 0;
  let zoom = 1, zoomChosen = false; // the second: set by a hand, not by the screen
  let middle = [width / 2, height / 2]; // the point of the picture in the middle of the stage
  let upright = false, uprightChosen = false; // the second: set by the button, not by the screen
  let spinning = false;
  let stageWidth = 1, stageHeight = 1; // CSS pixels

  let light = 0, finished = true; // of the rod itself
  let solid = null; // what draws it
  let moving = null; // its light, as it is moved
  let pending = drawable !== null; // whether it may still come

  const modelled = () => solid !== null && solid.active();
  const lighting = () => moving !== null && moving.active() && modelled();
  const frame = () => ((Math.round(turn) % count) + count) % count;
  const angle = () => (modelled() ? ((turn % count) + count) % count : frame()) / count;
  const degrees = () => Math.round((data.start + 360 * angle()) * 10) / 10 % 360;
  // The picture that is nearest to a step.
  const pictureOf = (step) => Math.round((step * data.frames) / count) % data.frames;

  // ---- Frames: all kept as base64 WebP; a few near the current turn are decoded

  const encoded = data.designs;
  encoded[0][0] = element("first").src.split(",")[1];
  const bitmaps = new Map(); // a bitmap; true while it is decoded; false if decoding failed
  const mostBitmaps = Math.max(8, Math.floor(128e6 / (width * height * 4)));
  let near = new Set(); // frames needed soon, which are released last
  let decoding = 0;

  const key = (d, k) => d * data.frames + k;

  function ready(d, k) {
    const found = bitmaps.get(key(d, k));
    return found && found !== true ? found : null;
  }

  function decode(d, k) {
    const name = key(d, k);
    if (bitmaps.has(name)) return;
    bitmaps.set(name, true);
    decoding += 1;
    const bytes = Uint8Array.from(atob(encoded[d][k]), (c) => c.charCodeAt(0));
    createImageBitmap(new Blob([bytes], { type: data.type })).then((bitmap) => {
      bitmaps.set(name, bitmap);
      for (const [other, old] of bitmaps) {
        if (bitmaps.size <= mostBitmaps) break;
        if (!old || old === true || other === name || near.has(other)) continue;
        old.close();
        bitmaps.delete(other);
      }
    }, () => bitmaps.set(name, false)).finally(() => {
      decoding -= 1;
      show();
    });
  }

  function release() {
    bitmaps.forEach((bitmap) => { if (bitmap && bitmap !== true) bitmap.close(); });
    bitmaps.clear();
  }

  // Decode the current frame, then the same turn of the other designs, then the neighbours.
  function fetchAhead() {
    const k = pictureOf(frame()), line = [[design, k]];
    const frames = data.frames;
    const reach = Math.min(Math.floor(mostBitmaps / 2) - 1, Math.floor(frames / 2));
    for (let d = 0; d < encoded.length; d += 1) line.push([d, k]);
    for (let step = 1; step <= reach; step += 1) {
      line.push([design, (k + step) % frames], [design, (k - step + frames) % frames]);
    }
    // While the rod itself may still come, no more than what is on screen: both are large.
    line.length = Math.min(line.length, pending ? 1 : mostBitmaps - 2);
    near = new Set(line.map(([d, at]) => key(d, at)));
    for (const [d, at] of line) {
      if (decoding >= 2) return;
      decode(d, at);
    }
  }

  // ---- Drawing

  let scheduled = false;
  function show() {
    if (scheduled) return;
    scheduled = true;
    requestAnimationFrame((now) => { scheduled = false; draw(now); });
  }

  // Sides of the stage along and across the picture's width, CSS pixels.
  const stageSides = () => (upright ? [stageHeight, stageWidth] : [stageWidth, stageHeight]);
  // Scale at which the whole length of the rod fits, and the band of height that must be visible.
  const fit = () => {
    const [along, across] = stageSides();
    return Math.min(along / width, across / (height * data.band));
  };
  // Pictures are soft beyond 3 of their pixels' width; the rod itself shows single threads.
  const mostZoom = () => Math.max(4, (modelled() ? THREADS / width : 3) / fit());
  // A phone begins with the wrap alone, as large as its screen holds it.
  const phone = matchMedia("(max-width: 34rem), (max-height: 30rem)");
  const firstZoom = () => {
    const [along, across] = stageSides();
    return phone.matches && data.lies
      ? Math.max(1, Math.min(along / (width * data.span), across / (height * data.band)) / fit()) : 1;
  };
  // Screen offsets to picture offsets; upright, the butt, left in the picture, is at the bottom.
  const toPicture = ([x, y]) => (upright ? [-y, x] : [x, y]);

  function clampView() {
    zoom = Math.min(Math.max(zoom, 1), mostZoom());
    const scale = fit() * zoom;
    const half = stageSides().map((side) => side / scale / 2);
    middle = [width, height].map((side, i) => (2 * half[i] >= side
      ? side / 2 : Math.min(Math.max(middle[i], half[i]), side - half[i])));
  }

  let lastTime = 0;
  function draw(now) {
    if (spinning) {
      const passed = lastTime ? Math.min(now - lastTime, 200) : 0;
      turn = (turn + (passed / 1000 / data.seconds) * count) % count;
    }
    lastTime = spinning ? now : 0;
    if (modelled()) solid.show();
    else {
      const k = pictureOf(frame()), bitmap = ready(design, k);
      if (bitmap) paint(bitmap);
      stage.dataset.behind = !bitmap; // the frame on screen is not the current one yet
      fetchAhead();
    }
    if (spinning) show();
  }

  function paint(bitmap) {
    const pixelRatio = Math.min(window.devicePixelRatio || 1, 3);
    const size = [Math.round(stageWidth * pixelRatio), Math.round(stageHeight * pixelRatio)];
    if (canvas.width !== size[0] || canvas.height !== size[1]) [canvas.width, canvas.height] = size;
    const scale = fit() * zoom * pixelRatio;
    context.setTransform(1, 0, 0, 1, 0, 0);
    context.fillStyle = data.ground;
    context.fillRect(0, 0, ...size);
    context.translate(size[0] / 2, size[1] / 2);
    if (upright) context.rotate(-Math.PI / 2);
    context.scale(scale, scale);
    context.translate(-middle[0], -middle[1]);
    context.imageSmoothingQuality = "high";
    context.drawImage(bitmap, 0, 0, width, height);
    fade();
    stage.classList.remove("modelled");
    tell();
  }

  // What is on screen now, in words.
  function tell() {
    stage.classList.add("drawn");
    Object.assign(stage.dataset, { frame: frame(), design, zoom: zoom.toFixed(3), upright });
    element("angle").textContent = `${degrees()}°`;
    if (!spinning) {
      stage.setAttribute("aria-valuenow", degrees());
      const which = pick.length ? `, design ${pick[design].dataset.letter}` : "";
      const lit = moving && modelled() ? moving.words() : "";
      stage.setAttribute("aria-valuetext", `${degrees()}°${which}${lit}`);
    }
    element("whole").disabled = element("out").disabled = zoom <= 1.001;
    element("in").disabled = zoom >= mostZoom() - 0.001;
  }

  // Fade the picture's edges into the background where they lie inside the stage.
  function fade() {
    const clear = data.ground + "00", deep = 0.05 * width, scale = fit() * zoom;
    const [along, across] = stageSides().map((side) => side / scale);
    for (const [x0, y0, x1, y1, inside] of [
      [0, 0, deep, 0, along - width], [width, 0, width - deep, 0, along - width],
      [0, 0, 0, deep, across - height], [0, height, 0, height - deep, across - height],
    ]) {
      if (inside * scale < 2) continue;
      const gradient = context.createLinearGradient(x0, y0, x1, y1);
      gradient.addColorStop(0, data.ground);
      gradient.addColorStop(1, clear);
      context.fillStyle = gradient;
      context.fillRect(-1, -1, width + 2, height + 2);
    }
  }

  // ---- Actions

  function spin(wanted) {
    spinning = wanted;
    element("spin").setAttribute("aria-pressed", String(wanted));
    if (!wanted) settleTurn();
    show();
  }

  // Pictures are shown as they are; the rod itself stays where it was left.
  function settleTurn() {
    if (!modelled()) turn = frame();
  }

  function step(frames) {
    spin(false);
    turn = frame() + frames;
    show();
  }

  function zoomBy(factor, at = [0, 0]) {
    const from = toPicture(at), scale = fit() * zoom;
    const point = middle.map((m, i) => m + from[i] / scale);
    zoom = Math.min(Math.max(zoom * factor, 1), mostZoom());
    zoomChosen = true;
    middle = point.map((p, i) => p - from[i] / (fit() * zoom));
    clampView();
    show();
  }

  function slide(by) {
    const scale = fit() * zoom;
    middle = middle.map((m, i) => m - toPicture(by)[i] / scale);
    clampView();
    show();
  }

  function whole(wanted = 1) {
    zoom = wanted;
    zoomChosen = true;
    clampView();
    show();
  }

  function choose(wanted) {
    if (!(wanted in pick)) return;
    design = wanted;
    pick[wanted].checked = true;
    show();
  }

  function stand(wanted) {
    upright = wanted;
    element("upright").setAttribute("aria-pressed", String(wanted));
    clampView();
    show();
  }

  // ---- Pointers

  const down = new Map();
  let hold = null; // start and kind of a drag with one pointer
  let tapped = { at: -1e9, x: 0, y: 0 };

  const local = (event) => {
    const box = stage.getBoundingClientRect();
    return [event.clientX - box.left - stageWidth / 2, event.clientY - box.top - stageHeight / 2];
  };

  stage.addEventListener("pointerdown", (event) => {
    if (event.pointerType === "mouse" && event.button > 2) return;
    stage.setPointerCapture(event.pointerId);
    down.set(event.pointerId, local(event));
    spin(false);
    const slides = event.button > 0 || event.shiftKey;
    hold = down.size > 1 ? null : {
      from: local(event), since: event.timeStamp, turn, middle, kind: slides ? "slide" : "",
      light: moving && moving.angles(),
    };
    stage.classList.add("held");
  });

  stage.addEventListener("pointermove", (event) => {
    const was = down.get(event.pointerId);
    if (!was) return;
    const at = local(event);
    down.set(event.pointerId, at);
    if (down.size === 2) {
      const [other] = [...down].filter(([id]) => id !== event.pointerId).map(([, p]) => p);
      const distance = (p) => Math.max(Math.hypot(p[0] - other[0], p[1] - other[1]), 1);
      slide([(at[0] - was[0]) / 2, (at[1] - was[1]) / 2]);
      zoomBy(distance(at) / distance(was), [(at[0] + other[0]) / 2, (at[1] + other[1]) / 2]);
      return;
    }
    if (!hold) return;
    const moved = [at[0] - hold.from[0], at[1] - hold.from[1]];
    const [along, across] = toPicture(moved);
    if (!hold.kind) {
      if (Math.hypot(...moved) < 4) return;
      const sideways = Math.abs(along) > Math.abs(across);
      hold.kind = !sideways ? "across" : zoom > 1.01 * firstZoom() ? "slide" : "along";
      if (lighting()) hold.kind = "light";
    }
    if (hold.kind === "light") {
      // Half a turn over the whole stage: a highlight on a round rod moves half as far as the light.
      const [wide, high] = stageSides();
      moving.put(hold.light[0] + (Math.PI * across) / high, hold.light[1] + (Math.PI * along) / wide);
      return;
    }
    if (hold.kind === "slide") {
      slide([at[0] - was[0], at[1] - was[1]]);
      return;
    }
    // The front of the rod follows the finger.
    const round = Math.max(2 * Math.PI * data.radius * height * fit() * zoom, 240);
    turn = hold.turn + ((hold.kind === "across" ? across : along) / round) * count;
    show();
  });

  function lift(event) {
    if (!down.delete(event.pointerId)) return;
    if (hold && !hold.kind && event.type === "pointerup" && event.timeStamp - hold.since < 350) {
      const [x, y] = hold.from;
      if (event.timeStamp - tapped.at < 400 && Math.hypot(x - tapped.x, y - tapped.y) < 30) {
        if (zoom > 1.01 * firstZoom()) whole(firstZoom()); else zoomBy(2.5, [x, y]);
        tapped = { at: -1e9, x, y };
      } else tapped = { at: event.timeStamp, x, y };
    }
    hold = null; // after a pinch the remaining finger does nothing
    if (!down.size) stage.classList.remove("held");
    settleTurn();
    show();
  }
  for (const name of ["pointerup", "pointercancel", "lostpointercapture"]) {
    stage.addEventListener(name, lift);
  }
  stage.addEventListener("contextmenu", (event) => event.preventDefault());
  stage.addEventListener("dragstart", (event) => event.preventDefault());
  stage.addEventListener("wheel", (event) => {
    event.preventDefault();
    const lines = event.deltaMode === 1 ? 16 : event.deltaMode === 2 ? 400 : 1;
    zoomBy(Math.exp(-event.deltaY * lines * (event.ctrlKey ? 0.01 : 0.0015)), local(event));
  }, { passive: false });

  // ---- Keys

  const quarter = Math.max(1, Math.round(count / 4));
  const anywhere = {
    ArrowRight: () => step(1), ArrowUp: () => step(1), ArrowLeft: () => step(-1),
    ArrowDown: () => step(-1), PageUp: () => step(quarter), PageDown: () => step(-quarter),
    Home: () => step(-frame()), End: () => step(count - 1 - frame()),
  };
  const onStage = {
    " ": () => spin(!spinning), "+": () => zoomBy(1.3), "=": () => zoomBy(1.3),
    "-": () => zoomBy(1 / 1.3), 0: () => whole(),
  };
  const slides = {
    ArrowRight: [-60, 0], ArrowLeft: [60, 0], ArrowUp: [0, 60], ArrowDown: [0, -60],
  };

  // While the light is moved, arrows move it as they point.
  const moveLight = (by) => () => {
    const [along, across] = toPicture(by);
    moving.step(across, along);
  };
  const lightKeys = {
    ArrowRight: moveLight([1, 0]), ArrowLeft: moveLight([-1, 0]), ArrowUp: moveLight([0, -1]),
    ArrowDown: moveLight([0, 1]), Home: () => moving.put(0, 0),
    Escape: () => moving.activate(false),
  };

  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const here = event.target === stage;
    if (!here && event.target !== document.body) return;
    const letter = pick.findIndex((input) => input.dataset.letter === event.key.toUpperCase());
    if (event.shiftKey && event.key in slides) slide(slides[event.key]);
    else if (lighting() && event.key in lightKeys) lightKeys[event.key]();
    else if (event.key in anywhere) anywhere[event.key]();
    else if (here && event.key in onStage) onStage[event.key]();
    else if (here && modelled() && event.key.toLowerCase() === "l") moving.activate(!moving.active());
    else if (here && letter >= 0) choose(letter);
    else return;
    event.preventDefault();
  });

  element("back").addEventListener("click", () => step(-1));
  element("on").addEventListener("click", () => step(1));
  element("spin").addEventListener("click", () => spin(!spinning));
  element("in").addEventListener("click", () => zoomBy(1.5));
  element("out").addEventListener("click", () => zoomBy(1 / 1.5));
  element("whole").addEventListener("click", () => whole());
  element("upright").addEventListener("click", () => { uprightChosen = true; stand(!upright); });
  pick.forEach((input, i) => input.addEventListener("change", () => choose(i)));

  // ---- The rod itself

  function view() {
    const scale = fit() * zoom;
    const turned = ((data.start + 360 * angle()) * Math.PI) / 180;
    const dry = !told.designs[design].finished;
    const under = finished && !dry, key = `${design} ${under} ${light}`;
    return {
      design, finished: under, light, lightTurn: moving.angles(), turn: turned, middle, scale,
      upright, key,
    };
  }

  let told = null; // the model's data
  function drawn(state, why = "") {
    stage.dataset.model = state;
    pending = state !== "none";
    if (state === "drawn") {
      if (!stage.classList.contains("modelled")) release();
      stage.classList.add("modelled");
      stage.dataset.behind = false;
      element("choices").hidden = false;
      element("finish").disabled = !told.designs[design].finished;
      tell();
      return;
    }
    // Pictures stand in.
    stage.classList.remove("modelled");
    moving.activate(false);
    element("choices").hidden = true;
    element("flat").hidden = state !== "none" || why === "asked for";
    clampView();
    settleTurn();
    show();
  }

  // Whether the tab was ended while it drew, and loaded again by the browser, more often than it may.
  function endedTooOften() {
    try {
      const starts = Number(sessionStorage.getItem(STARTS)) || 0;
      addEventListener("pagehide", () => sessionStorage.removeItem(STARTS));
      if (starts > MOST_LOSSES) return true;
      sessionStorage.setItem(STARTS, String(starts + 1));
    } catch {
      // Storage is switched off: nothing is known.
    }
    return false;
  }

  function beginModel() {
    told = JSON.parse(drawable.textContent);
    drawable.remove();
    told.size = [width, height];
    moving = movedLight(element, show);
    const canvas = element("solid");
    const fit = (what, size) => (
      { ...what, ...size, scale: (what.scale * size.width) / canvas.clientWidth });
    if (location.hash === "#pictures") drawn("none", "asked for");
    else if (endedTooOften()) drawn("none", "lost");
    else {
      solid = modelView(canvas, {
        open: () => drawingOf(canvas, told, { sparing: true }),
        view,
        fit,
        changed: drawn,
        forced: location.hash === "#model", // for tests and for curiosity
        brisk: BRISK,
        mostPixels: MOST_PIXELS,
        mostLosses: MOST_LOSSES,
      });
    }
    element("light").addEventListener("change", (event) => {
      light = event.target.selectedIndex;
      show();
    });
    element("finish").addEventListener("click", () => {
      finished = !finished;
      element("finish").setAttribute("aria-pressed", String(finished));
      show();
    });
  }

  // ---- Start

  new ResizeObserver(() => {
    [stageWidth, stageHeight] = [stage.clientWidth, stage.clientHeight];
    if (!uprightChosen) stand(data.lies && stageHeight > 1.15 * stageWidth);
    if (!zoomChosen) zoom = firstZoom();
    clampView();
    show();
  }).observe(stage);
  document.documentElement.style.setProperty("--ground", data.ground);
  const notes = element("notes");
  if (notes) notes.open = matchMedia("(min-width: 60rem) and (min-height: 50rem)").matches;
  element("controls").hidden = false;
  element("unturned").hidden = true;
  spin(!matchMedia("(prefers-reduced-motion: reduce)").matches);
  // The first picture is seen before the work on the rod itself begins.
  if (drawable) requestAnimationFrame(() => setTimeout(beginModel));
})();
