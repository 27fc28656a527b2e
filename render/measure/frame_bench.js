// Measures how long pictures of models take in this browser, shows a table of it, and leaves all
// figures as JSON in the page. It follows render/browser's scripts in one script element.
// A time runs until a pixel of the picture has been read back, and so until all of it is drawn.

const settings = JSON.parse(document.getElementById("settings").textContent);
const TIMER = "EXT_disjoint_timer_query_webgl2"; // the graphics processor's own clock
const LEAST_FRAMES = 3; // of a row, beside the first
const VERY_SLOW = 5; // times a row's seconds, after which a single frame is enough

const rest = (ms = 0) => new Promise((done) => setTimeout(done, ms));

// As numpy.percentile: linear between the values in order.
function percentile(values, share) {
  const sorted = [...values].sort((a, b) => a - b), at = share * (sorted.length - 1);
  const low = Math.floor(at), high = Math.min(low + 1, sorted.length - 1);
  return sorted[low] + (at - low) * (sorted[high] - sorted[low]);
}

// Counts the bytes of textures, targets and shapes that a context asks for. Returns a function of the
// bytes now held, and those held at most.
function countedBytes(gl) {
  const texel = new Map([[gl.RGBA16F, 8], [gl.RGBA32F, 16]]); // 4 of all others that we use
  const held = new Map(), bound = {};
  let sum = 0, most = 0;
  const note = (one, bytes) => {
    sum += bytes - (held.get(one) || 0);
    held.set(one, bytes);
    most = Math.max(most, sum);
  };
  const after = (name, act) => {
    const real = gl[name].bind(gl);
    gl[name] = (...given) => {
      const result = real(...given);
      act(...given);
      return result;
    };
  };
  for (const kind of ["Texture", "Renderbuffer", "Buffer"]) {
    after(`bind${kind}`, (_, one) => { bound[kind] = one; });
    after(`delete${kind}`, (one) => { if (held.has(one)) { note(one, 0); held.delete(one); } });
  }
  after("texStorage2D", (_, levels, format, width, height) => {
    let texels = 0;
    for (let level = 0; level < levels; level += 1) {
      texels += Math.max(1, width >> level) * Math.max(1, height >> level);
    }
    note(bound.Texture, texels * (texel.get(format) || 4));
  });
  after("texImage2D", (_, level, format, ...more) => {
    const [width, height] = more.length > 3 ? more : [more[2].width, more[2].height];
    note(bound.Texture, width * height * (texel.get(format) || 4));
  });
  after("renderbufferStorageMultisample", (_, samples, format, width, height) => {
    note(bound.Renderbuffer, Math.max(1, samples) * width * height * 4);
  });
  after("bufferData", (_, array) => note(bound.Buffer, array.byteLength));
  return () => [sum, most].map((bytes) => bytes + 4 * gl.drawingBufferWidth * gl.drawingBufferHeight);
}

// A design in other colours of thread: red, green and blue of every look change places.
function recoloured(design) {
  const other = structuredClone(design);
  for (const state of [other.finished, other.dry]) {
    for (const { looks } of state ? state.wraps : []) {
      for (let at = 0; at < 8 * looks.count; at += 4) {
        const [red, green, blue] = looks.rows.slice(at, at + 3);
        looks.rows.splice(at, 3, green, blue, red);
      }
    }
  }
  return other;
}

// Draws one model at all sizes; `found` takes the rows, `progress` says what is measured.
async function benchModel({ name, model }, found, progress) {
  const canvas = document.createElement("canvas");
  const gl = openContext(canvas, model.longestSide);
  if (!gl) throw new Error("this browser has no WebGL2 with targets of half floats");
  const bytes = countedBytes(gl), timer = gl.getExtension(TIMER);
  const finished = Boolean(model.designs[0].finished);
  model.designs.push(recoloured(model.designs[0]));
  const colours = [0, model.designs.length - 1];

  const viewOf = ([width, height], changes) => {
    const view = {
      design: 0, finished, light: 0, lightTurn: [0, 0], turn: 0, zoom: 1, upright: false,
      middle: model.size.map((side) => side / 2), width, height, samples: 1, preview: 1, ...changes,
    };
    return { ...view, scale: (view.zoom * width) / model.size[0] };
  };

  // Milliseconds of the graphics processor for each query; none where its clock was disturbed.
  async function elapsed(queries) {
    const times = [];
    for (const query of queries) {
      for (let tries = 0; tries < 100; tries += 1) {
        if (gl.getQueryParameter(query, gl.QUERY_RESULT_AVAILABLE)) break;
        await rest(10);
      }
      times.push(gl.getQueryParameter(query, gl.QUERY_RESULT) / 1e6);
      gl.deleteQuery(query);
    }
    return gl.getParameter(timer.GPU_DISJOINT_EXT) ? [] : times;
  }

  // Draws view(0), view(1), ... until there are enough frames, or time is up.
  async function row(what, size, view, prepared = false) {
    progress(`${name}: ${what}, ${size.join(" x ")}`);
    await rest();
    const { frames, warmUp, seconds } = settings;
    const begun = performance.now(), times = [], queries = [];
    if (timer) gl.getParameter(timer.GPU_DISJOINT_EXT);
    for (let passed = 0; times.length < warmUp + frames;) {
      const shown = viewOf(size, view(times.length)), from = performance.now();
      const query = timer && !prepared ? gl.createQuery() : null;
      if (prepared) await drawing.ready(shown);
      if (query) gl.beginQuery(timer.TIME_ELAPSED_EXT, query);
      drawing.draw(shown);
      if (query) gl.endQuery(timer.TIME_ELAPSED_EXT);
      drawing.finish();
      times.push(performance.now() - from);
      if (query) queries.push(query);
      passed = (performance.now() - begun) / 1000;
      if (passed > seconds && (times.length > LEAST_FRAMES || passed > VERY_SLOW * seconds)) break;
    }
    // The first frames make ready what the others use. A slow browser has drawn few, at worst one.
    const warm = times.length > 2 * warmUp ? warmUp : Math.min(1, times.length - 1);
    if (gl.drawingBufferWidth !== size[0] || gl.drawingBufferHeight !== size[1]) {
      throw new Error(`the browser made the canvas smaller than ${size.join(" x ")}`);
    }
    const error = gl.getError();
    if (error) throw new Error(`WebGL error ${error} in ${what}, ${size.join(" x ")}`);
    const graphics = queries.length ? await elapsed(queries) : [];
    found.rows.push({
      model: name, what, size, times: times.slice(warm), graphics: graphics.slice(warm),
    });
  }

  progress(`${name}: the first picture`);
  const begun = performance.now();
  const drawing = await drawingOf(canvas, model);
  const first = viewOf(settings.sizes[0], {});
  await drawing.ready(first);
  drawing.draw(first);
  drawing.finish();
  const took = performance.now() - begun;
  found.rows.push({
    model: name, what: "first picture", size: settings.sizes[0], times: [took], graphics: [],
  });
  const info = gl.getExtension("WEBGL_debug_renderer_info");
  found.renderer = String(gl.getParameter(info ? info.UNMASKED_RENDERER_WEBGL : gl.RENDERER));
  found.timer = Boolean(timer);

  const turned = (step) => 0.1 * step, { enlarged } = settings;
  const still = { samples: 2, preview: 0 };
  for (const size of settings.sizes) {
    await row("moving", size, (step) => ({ turn: turned(step) }));
    await row(`moving, ${enlarged} x`, size, (step) => ({ turn: turned(step), zoom: enlarged }));
    await row("light moved", size, (step) => ({ lightTurn: [turned(step), turned(step) / 5] }));
    if (model.designs[0].lights.length > 1) {
      await row("other light", size, (step) => ({ light: step % 2 }), true);
    }
    await row("colours swapped", size, (step) => ({ design: colours[step % 2] }), true);
    await drawing.ready(first);
    await row("still", size, (step) => ({ turn: turned(step), ...still }));
    await row(`still, ${enlarged} x`, size,
      (step) => ({ turn: turned(step), zoom: enlarged, ...still }));
    const [held, most] = bytes();
    found.memory.push({ model: name, size, held, most });
  }
  drawing.draw(viewOf([640, 360], still));
  const picture = document.createElement("img");
  picture.alt = name;
  picture.src = canvas.toDataURL("image/jpeg", 0.8);
  document.getElementById("pictures").append(picture);
  gl.getExtension("WEBGL_lose_context")?.loseContext();
}

function tableOf({ renderer, timer, rows, memory }) {
  const ms = (values, share) => (values.length ? percentile(values, share).toFixed(2) : "");
  const lines = [["model", "what", "size", "frames", "p50 ms", "p95 ms", "GPU p50", "GPU p95"]];
  for (const { model, what, size, times, graphics } of rows) {
    lines.push([
      model, what, size.join(" x "), String(times.length), ms(times, 0.5), ms(times, 0.95),
      ms(graphics, 0.5), ms(graphics, 0.95),
    ]);
  }
  const widths = lines[0].map((_, i) => Math.max(...lines.map((line) => line[i].length)));
  const padded = lines.map((line) => line.map((cell, i) => (
    i < 3 ? cell.padEnd(widths[i]) : cell.padStart(widths[i]))).join("  "));
  return [
    `Drawn by: ${renderer}`,
    `Browser: ${navigator.userAgent}`,
    "Each time runs until a pixel of the picture has been read back. GPU: of the processor's own clock"
      + (timer ? "." : ", which this browser does not give."),
    "", ...padded, "",
    ...memory.map(({ model, size, held, most }) => `${model}, ${size.join(" x ")}: graphics memory `
      + `${(held / 1e6).toFixed(0)} MB, at most ${(most / 1e6).toFixed(0)} MB`),
  ].join("\n");
}

async function bench() {
  const state = document.getElementById("state"), table = document.getElementById("table");
  // Until its document is closed the page counts as loading: a browser that prints the page once it
  // has loaded prints the table.
  const holding = document.createElement("iframe");
  holding.hidden = true;
  document.body.append(holding);
  holding.contentDocument.open();
  const models = JSON.parse(document.getElementById("models").textContent);
  for (const name of ["models", "settings", "bench"]) document.getElementById(name).remove();
  const found = { renderer: "", timer: false, rows: [], memory: [], failure: "" };
  const begun = performance.now();
  try {
    for (const one of models) {
      await benchModel(one, found, (words) => { state.textContent = `Measuring ${words} …`; });
    }
    table.textContent = tableOf(found);
  } catch (error) {
    found.failure = String(error);
  }
  const seconds = ((performance.now() - begun) / 1000).toFixed(0);
  state.textContent = found.failure || `Measured in ${seconds} s.`;
  const result = document.createElement("script");
  result.type = "application/json";
  result.id = "measured";
  result.textContent = JSON.stringify(found,
    (_, value) => (typeof value === "number" ? Math.round(1000 * value) / 1000 : value))
    .replaceAll("<", "\\u003c");
  document.body.append(result);
  document.documentElement.dataset.state = found.failure ? "failed" : "measured";
  holding.contentDocument.close();
  holding.remove();
}

bench();
