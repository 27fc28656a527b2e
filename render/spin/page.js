
"use strict";
(() => {
  const told = JSON.parse(document.getElementById("turns").textContent);
  const [width, height] = told.size;
  const count = told.frames;
  const one = (id) => document.getElementById(id);
  const stage = one("stage"), canvas = one("picture"), pen = canvas.getContext("2d");
  const pick = [...document.querySelectorAll("input[name=design]")];

  // ---- What is shown
  let turn = 0; // in frames, not rounded, so that a slow drag is not lost between two of them
  let design = 0;
  let zoom = 1;
  let middle = [width / 2, height / 2]; // the point of the picture in the middle of the stage
  let upright = false, chosen = false;
  let spinning = false;
  let wide = 1, high = 1;

  const frame = () => ((Math.round(turn) % count) + count) % count;
  const degrees = () => Math.round((told.start + (360 * frame()) / count) * 10) / 10 % 360;

  // ---- Frames: kept packed, unpacked when wanted, a few held ready

  const packed = told.designs;
  packed[0][0] = one("first").src.split(",")[1];
  const held = new Map(); // a bitmap; true while it is unpacked; false where it cannot be
  const most = Math.max(8, Math.floor(128e6 / (width * height * 4)));
  let near = new Set(); // frames that may be wanted soon: those are let go last
  let unpacking = 0;

  const key = (d, k) => d * count + k;

  function ready(d, k) {
    const found = held.get(key(d, k));
    return found && found !== true ? found : null;
  }

  function unpack(d, k) {
    const name = key(d, k);
    if (held.has(name)) return;
    held.set(name, true);
    unpacking += 1;
    const bytes = Uint8Array.from(atob(packed[d][k]), (c) => c.charCodeAt(0));
    createImageBitmap(new Blob([bytes], { type: told.type })).then((bitmap) => {
      held.set(name, bitmap);
      for (const [other, old] of held) {
        if (held.size <= most) break;
        if (!old || old === true || other === name || near.has(other)) continue;
        old.close();
        held.delete(other);
      }
    }, () => held.set(name, false)).finally(() => {
      unpacking -= 1;
      show();
    });
  }

  // The frame that is wanted now, then its neighbours, then the same turn of the other designs.
  function fetchAhead() {
    const k = frame(), line = [[design, k]];
    const reach = Math.min(Math.floor(most / 2) - 1, Math.floor(count / 2));
    for (let d = 0; d < packed.length; d += 1) line.push([d, k]);
    for (let step = 1; step <= reach; step += 1) {
      line.push([design, (k + step) % count], [design, (k - step + count) % count]);
    }
    line.length = Math.min(line.length, most - 2);
    near = new Set(line.map(([d, at]) => key(d, at)));
    for (const [d, at] of line) {
      if (unpacking >= 2) return;
      unpack(d, at);
    }
  }

  // ---- Drawing

  let asked = false;
  function show() {
    if (asked) return;
    asked = true;
    requestAnimationFrame((now) => { asked = false; draw(now); });
  }

  // The whole length of the rod; of the card above and below it, as much as there is room for.
  const fit = () => {
    const [along, across] = upright ? [high, wide] : [wide, high];
    return Math.min(along / width, across / (height * told.band));
  };
  const mostZoom = () => Math.max(4, 3 / fit());
  // From the screen to the picture and back: upright, the butt on the left stands at the bottom.
  const inward = ([x, y]) => (upright ? [-y, x] : [x, y]);

  function settle() {
    zoom = Math.min(Math.max(zoom, 1), mostZoom());
    const scale = fit() * zoom;
    const half = (upright ? [high, wide] : [wide, high]).map((side) => side / scale / 2);
    middle = [width, height].map((side, i) => (2 * half[i] >= side
      ? side / 2 : Math.min(Math.max(middle[i], half[i]), side - half[i])));
  }

  let before = 0;
  function draw(now) {
    if (spinning) {
      const passed = before ? Math.min(now - before, 200) : 0;
      turn = (turn + (passed / 1000 / told.seconds) * count) % count;
    }
    before = spinning ? now : 0;
    const k = frame(), bitmap = ready(design, k);
    if (bitmap) paint(bitmap, k);
    stage.dataset.behind = !bitmap; // for a moment what is shown is not what was asked for
    fetchAhead();
    if (spinning) show();
  }

  function paint(bitmap, k) {
    const dots = Math.min(window.devicePixelRatio || 1, 3);
    const size = [Math.round(wide * dots), Math.round(high * dots)];
    if (canvas.width !== size[0] || canvas.height !== size[1]) [canvas.width, canvas.height] = size;
    const scale = fit() * zoom * dots;
    pen.setTransform(1, 0, 0, 1, 0, 0);
    pen.fillStyle = told.ground;
    pen.fillRect(0, 0, ...size);
    pen.translate(size[0] / 2, size[1] / 2);
    if (upright) pen.rotate(-Math.PI / 2);
    pen.scale(scale, scale);
    pen.translate(-middle[0], -middle[1]);
    pen.imageSmoothingQuality = "high";
    pen.drawImage(bitmap, 0, 0, width, height);
    fade();
    stage.classList.add("drawn");
    Object.assign(stage.dataset, { frame: k, design, zoom: zoom.toFixed(3), upright });
    one("angle").textContent = `${degrees()}°`;
    if (!spinning) {
      stage.setAttribute("aria-valuenow", degrees());
      const which = pick.length ? `, design ${pick[design].dataset.letter}` : "";
      stage.setAttribute("aria-valuetext", `${degrees()}°${which}`);
    }
    one("whole").disabled = one("out").disabled = zoom <= 1.001;
    one("in").disabled = zoom >= mostZoom() - 0.001;
  }

  // The picture's edges melt into the stage where it does not reach the stage's own.
  function fade() {
    const clear = told.ground + "00", deep = 0.05 * width, scale = fit() * zoom;
    const [along, across] = (upright ? [high, wide] : [wide, high]).map((side) => side / scale);
    for (const [x0, y0, x1, y1, inside] of [
      [0, 0, deep, 0, along - width], [width, 0, width - deep, 0, along - width],
      [0, 0, 0, deep, across - height], [0, height, 0, height - deep, across - height],
    ]) {
      if (inside * scale < 2) continue;
      const melt = pen.createLinearGradient(x0, y0, x1, y1);
      melt.addColorStop(0, told.ground);
      melt.addColorStop(1, clear);
      pen.fillStyle = melt;
      pen.fillRect(-1, -1, width + 2, height + 2);
    }
  }

  // ---- What can be asked

  function spin(wanted) {
    spinning = wanted;
    one("spin").setAttribute("aria-pressed", String(wanted));
    if (!wanted) turn = frame();
    show();
  }

  function step(frames) {
    spin(false);
    turn = frame() + frames;
    show();
  }

  function zoomBy(factor, at = [0, 0]) {
    const from = inward(at), scale = fit() * zoom;
    const point = middle.map((m, i) => m + from[i] / scale);
    zoom = Math.min(Math.max(zoom * factor, 1), mostZoom());
    middle = point.map((p, i) => p - from[i] / (fit() * zoom));
    settle();
    show();
  }

  function slide(by) {
    const scale = fit() * zoom;
    middle = middle.map((m, i) => m - inward(by)[i] / scale);
    settle();
    show();
  }

  function whole() {
    zoom = 1;
    settle();
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
    one("upright").setAttribute("aria-pressed", String(wanted));
    settle();
    show();
  }

  // ---- Fingers and mouse

  const down = new Map();
  let hold = null; // what one finger does, from where
  let tapped = { at: -1e9, x: 0, y: 0 };

  const local = (event) => {
    const box = stage.getBoundingClientRect();
    return [event.clientX - box.left - wide / 2, event.clientY - box.top - high / 2];
  };

  stage.addEventListener("pointerdown", (event) => {
    if (event.pointerType === "mouse" && event.button > 2) return;
    stage.setPointerCapture(event.pointerId);
    down.set(event.pointerId, local(event));
    spin(false);
    const slides = event.button > 0 || event.shiftKey;
    hold = down.size > 1 ? null : {
      from: local(event), since: event.timeStamp, turn, middle, kind: slides ? "slide" : "",
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
      const apart = (p) => Math.max(Math.hypot(p[0] - other[0], p[1] - other[1]), 1);
      slide([(at[0] - was[0]) / 2, (at[1] - was[1]) / 2]);
      zoomBy(apart(at) / apart(was), [(at[0] + other[0]) / 2, (at[1] + other[1]) / 2]);
      return;
    }
    if (!hold) return;
    const moved = [at[0] - hold.from[0], at[1] - hold.from[1]];
    const [along, across] = inward(moved);
    if (!hold.kind) {
      if (Math.hypot(...moved) < 4) return;
      const sideways = Math.abs(along) > Math.abs(across);
      hold.kind = !sideways ? "across" : zoom > 1.01 ? "slide" : "along";
    }
    if (hold.kind === "slide") {
      slide([at[0] - was[0], at[1] - was[1]]);
      return;
    }
    // The side of the rod that faces you stays under the finger.
    const round = Math.max(2 * Math.PI * told.radius * height * fit() * zoom, 240);
    turn = hold.turn + ((hold.kind === "across" ? across : along) / round) * count;
    show();
  });

  function lift(event) {
    if (!down.delete(event.pointerId)) return;
    if (hold && !hold.kind && event.type === "pointerup" && event.timeStamp - hold.since < 350) {
      const [x, y] = hold.from;
      if (event.timeStamp - tapped.at < 400 && Math.hypot(x - tapped.x, y - tapped.y) < 30) {
        if (zoom > 1.01) whole(); else zoomBy(2.5, [x, y]);
        tapped = { at: -1e9, x, y };
      } else tapped = { at: event.timeStamp, x, y };
    }
    hold = null; // after a pinch the finger that stays does nothing
    if (!down.size) stage.classList.remove("held");
    turn = frame();
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
    "-": () => zoomBy(1 / 1.3), 0: whole,
  };
  const slides = {
    ArrowRight: [-60, 0], ArrowLeft: [60, 0], ArrowUp: [0, 60], ArrowDown: [0, -60],
  };

  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const here = event.target === stage;
    if (!here && event.target !== document.body) return;
    const letter = pick.findIndex((one) => one.dataset.letter === event.key.toUpperCase());
    if (event.shiftKey && event.key in slides) slide(slides[event.key]);
    else if (event.key in anywhere) anywhere[event.key]();
    else if (here && event.key in onStage) onStage[event.key]();
    else if (here && letter >= 0) choose(letter);
    else return;
    event.preventDefault();
  });

  one("back").addEventListener("click", () => step(-1));
  one("on").addEventListener("click", () => step(1));
  one("spin").addEventListener("click", () => spin(!spinning));
  one("in").addEventListener("click", () => zoomBy(1.5));
  one("out").addEventListener("click", () => zoomBy(1 / 1.5));
  one("whole").addEventListener("click", whole);
  one("upright").addEventListener("click", () => { chosen = true; stand(!upright); });
  pick.forEach((input, i) => input.addEventListener("change", () => choose(i)));

  // ---- Beginning

  new ResizeObserver(() => {
    [wide, high] = [stage.clientWidth, stage.clientHeight];
    if (!chosen) stand(told.lies && high > 1.15 * wide);
    settle();
    show();
  }).observe(stage);
  document.documentElement.style.setProperty("--ground", told.ground);
  const notes = document.querySelector("details");
  if (notes) notes.open = matchMedia("(min-width: 60rem) and (min-height: 50rem)").matches;
  one("controls").hidden = false;
  one("unturned").hidden = true;
  spin(!matchMedia("(prefers-reduced-motion: reduce)").matches);
})();
