"use strict";
// A stage in a canvas. What is shown is a view:
//   design, finished, light: numbers of the model's designs and lights; whether under finish
//   turn: of the rod, rad
//   middle, scale, upright: the point of the picture in the middle of the canvas, in pixels of the
//     picture; pixels of the canvas to one of the picture; whether the rod stands, butt below
//   width, height: of the canvas, pixels
//   samples: along either side of a pixel; preview: 1 for the quality of what moves

const BODIES = { wrap: true, plain: true, glow: true };
const MOST_SAMPLES = 16e6; // 128 MB
const TAPS = [9, 5]; // normals across a row: of a still, of a preview (render/live/live.py)

const product = (a, b) => {
  const result = new Float32Array(16);
  for (let column = 0; column < 4; column += 1) {
    for (let row = 0; row < 4; row += 1) {
      let sum = 0;
      for (let k = 0; k < 4; k += 1) sum += a[4 * k + row] * b[4 * column + k];
      result[4 * column + row] = sum;
    }
  }
  return result;
};

// From the stage to the camera, column by column, and the way back for directions.
function looking({ position, target: at, up }) {
  const minus = (a, b) => a.map((x, i) => x - b[i]);
  const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
  const cross = (a, b) => [
    a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0],
  ];
  const unit = (a) => a.map((x) => x / Math.hypot(...a));
  const back = unit(minus(position, at)), right = unit(cross(up, back)), high = cross(back, right);
  const axes = [right, high, back];
  const columns = [0, 1, 2].map((i) => [...axes.map((axis) => axis[i]), 0]).flat();
  return {
    matrix: new Float32Array([...columns, ...axes.map((axis) => -dot(axis, position)), 1]),
    toStage: new Float32Array(axes.flat()),
  };
}

// From the rod to the stage, turned (scenes.stage.stage.Stage.placing), column by column.
function placing(turn, middle) {
  const [c, s] = [Math.cos(turn), Math.sin(turn)];
  return new Float32Array([0, c, s, 0, 0, -s, c, 0, 1, 0, 0, 0, -middle, 0, 0, 1]);
}

// The part of the picture that the canvas shows. The camera stays where it is: to come nearer is to
// enlarge the picture, so threads do not bulge.
function projected(camera, [wide, high], view) {
  const near = 0.2 * camera.distance, far = 5 * camera.distance + 4000;
  const pixels = high / 2 / Math.tan(camera.angle / 2); // of the picture, at distance 1
  const across = (2 * view.scale) / view.width, down = (2 * view.scale) / view.height;
  const [x, y] = [view.middle[0] - wide / 2, view.middle[1] - high / 2];
  // Right and up in the picture, each of x, y and z.
  const right = [pixels, 0, x], up = [0, pixels, -y];
  const rows = view.upright ? [up.map((one) => -one), right] : [right, up];
  const [a, b] = [rows[0].map((one) => one * across), rows[1].map((one) => one * down)];
  return new Float32Array([
    a[0], b[0], 0, 0, a[1], b[1], 0, 0, a[2], b[2], (far + near) / (near - far), -1,
    0, 0, (2 * far * near) / (near - far), 0,
  ]);
}

// Samples of each drawn pixel for outlines; none where they would take too much memory, eight bytes
// each: the picture is then the mean of 2 x 2 at least.
function outlineSamples(gl, { width, height, samples }) {
  const most = Math.min(4, gl.getParameter(gl.MAX_SAMPLES));
  return width * height * samples * samples * most <= MOST_SAMPLES ? most : 0;
}

// Prepares a model in a canvas. Returns null where the browser cannot draw it.
async function drawingOf(canvas, model) {
  const gl = openContext(canvas, model.longestSide);
  if (!gl) return null;
  const programs = {};
  for (const [name, texts] of Object.entries(model.programs)) {
    programs[name] = linked(gl, texts, name in BODIES ? ATTRIBUTES : []);
  }
  const kept = { maps: new Map(), shapes: new Map(), lights: new Map() };
  const once = async (group, key, make) => {
    if (!kept[group].has(key)) kept[group].set(key, await make());
    return kept[group].get(key);
  };
  let frame = null, shown = null;

  // What a view needs, made ready. Of maps only those are kept that are wanted now: they are large.
  async function ready(view) {
    const design = model.designs[view.design];
    const state = view.finished ? design.finished : design.dry;
    const wanted = new Set(state.wraps.map((wrap) => wrap.maps));
    for (const [key, maps] of kept.maps) {
      if (wanted.has(key)) continue;
      const textures = [maps.slopesMap, maps.outsideMap, maps.pictures.threads,
        maps.pictures.threadsHigh, maps.pictures.reach, maps.rowsMap,
        ...Object.values(maps.colours || {})];
      textures.forEach((one) => one && gl.deleteTexture(one));
      kept.maps.delete(key);
    }
    const wraps = [];
    for (const wrap of state.wraps) {
      const packed = model.maps[wrap.maps];
      const maps = await once("maps", wrap.maps, () => packedMaps(gl, programs, model, packed));
      putLooks(gl, programs, model, maps, wrap.looks);
      const made = () => tubeShape(gl, model.blobs, wrap.tube, packed.size);
      wraps.push({ wrap, maps, shape: await once("shapes", wrap.tube.radii, made) });
    }
    const bodies = [];
    for (const body of design.bodies) {
      const key = `${body.points} ${body.low} ${body.step} ${body.colours}`;
      const made = () => meshShape(gl, model.blobs, body);
      bodies.push({ body, shape: await once("shapes", key, made) });
    }
    const light = design.lights[view.light];
    const key = light.maps.map((map) => map.high + map.low).join();
    const lightMap = await once("lights", key, () => lightTexture(gl, programs, model, light));
    const card = await once("shapes", `card ${view.design} ${view.light}`,
      () => cardShape(gl, design.card, light.card));
    shown = { design, light, lightMap, wraps, bodies, card };
  }

  function draw(view) {
    const { design, light, lightMap, wraps, bodies, card } = shown;
    const samples = view.preview ? 0 : outlineSamples(gl, view);
    const same = frame && ["width", "height"].every((side) => frame[side] === view[side])
      && frame.samples === samples && frame.finer === view.samples;
    if (!same) {
      if (frame) frame.free();
      [canvas.width, canvas.height] = [view.width, view.height];
      frame = target(gl, programs.shrink, view.width, view.height, samples, view.samples);
    }
    const look = looking(model.camera), projection = projected(model.camera, model.size, view);
    const turned = product(look.matrix, placing(view.turn, design.middle));
    const lit = {
      projection, lightFromView: look.toStage, samplesAcross: view.samples,
    };
    const whole = { cameraParallel: 0, preview: view.preview, taps: TAPS[view.preview] };
    const put = (kind, made, textures, floats) => {
      const program = programs[kind];
      gl.useProgram(program.program);
      bindTextures(gl, program, textures);
      setUniforms(gl, program, { ...lit, ...floats }, whole);
      gl.bindVertexArray(made.vertices);
      gl.drawElements(gl.TRIANGLES, made.count, gl.UNSIGNED_INT, 0);
    };
    frame.begin();
    gl.clearColor(...light.background, 1);
    gl.enable(gl.DEPTH_TEST);
    gl.enable(gl.CULL_FACE);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    for (const { wrap, maps, shape: made } of wraps) {
      const { slopesMap, outsideMap, rowsMap, packed } = maps;
      put("wrap", made, { lightMap, slopesMap, outsideMap, rowsMap, ...maps.colours }, {
        modelView: turned, finishIor: wrap.ior, mapSize: packed.size,
        mapsPerMm: wrap.mapsPerMm,
      });
    }
    for (const { body, shape: made } of bodies) {
      put("plain", made, { lightMap },
        { modelView: turned, metallicOf: body.metallic, roughnessOf: body.roughness });
    }
    put("glow", card, {}, { modelView: look.matrix });
    frame.show();
  }

  // Waits until all that was asked for has been drawn.
  function finish() {
    gl.readPixels(0, 0, 1, 1, gl.RGBA, gl.UNSIGNED_BYTE, new Uint8Array(4));
  }

  return { gl, ready, draw, finish };
}
