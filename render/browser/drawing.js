"use strict";
// A stage in a canvas. What is shown is a view:
//   stage: maps and designs; the model's own if there is none
//   design, finished: number of the stage's design; whether under finish
//   light: number of the design's light, or lit: a light as render/browser/stage_json.py has it
//   lightTurn, stops: how far the light is moved from where it was packed, round the rod and along
//     it, rad; exposure
//   camera, size: its picture's width and height, pixels; those of the model if there are none
//   turn: of the rod, rad
//   middle, scale, upright: the point of the picture in the middle of the canvas, in pixels of the
//     picture; pixels of the canvas to one of the picture; whether the rod stands, butt below
//   width, height: of the canvas, pixels
//   samples: along either side of a pixel; preview: 1 for the quality of what moves
//   parts: changes of these for each of several pictures on the canvas, with area, the rectangle
//     [x, y, width, height] that it fills, and shownPart, where it is seen; from the lower left corner,
//     pixels

const BODIES = { wrap: true, plain: true, glow: true, ground: true };
const MOST_SAMPLES = 16e6; // 128 MB
const LIGHTS_KEPT = 4; // shown last, some 20 MB each: a choice among them is shown at once
const OF_A_LIGHT = /^(light|card|ground) /;
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
function outlineSamples(gl, width, height, samples) {
  const most = Math.min(4, gl.getParameter(gl.MAX_SAMPLES));
  return width * height * samples * samples * most <= MOST_SAMPLES ? most : 0;
}

// sRGB of scene radiance: render/live/shaders/display.glsl.
function displayed(radiance, { exposure, linearTo, white }) {
  const room = 1 - linearTo, top = (white - linearTo) / room;
  return radiance.map((sent) => {
    const x = Math.min(Math.max(sent * exposure, 0), white), t = (x - linearTo) / room;
    const light = x <= linearTo ? x : linearTo + (room * t * (1 + t / (top * top))) / (1 + t);
    return light <= 0.0031308 ? 12.92 * light : 1.055 * light ** (1 / 2.4) - 0.055;
  });
}

const partsOf = (view) => (view.parts || [{}]).map((part) => ({ ...view, ...part }));

// Prepares a model in a canvas. `bytes` gives what a name of the model stands for, or a promise of
// it. With `sparing`, what colours are made from is unpacked anew for other colours, and not kept.
// Returns null where the browser cannot draw it.
async function drawingOf(
  canvas, model, { bytes = (name) => bytesOf(model.blobs[name]), sparing = false } = {},
) {
  const gl = openContext(canvas, model.longestSide);
  if (!gl) return null;
  const programs = {};
  // Those that move the light are not needed until it moves.
  for (const [name, texts] of Object.entries(model.programs)) {
    const make = () => linked(gl, texts, name in BODIES ? ATTRIBUTES : []);
    Object.defineProperty(programs, name, {
      configurable: true,
      get() {
        Object.defineProperty(programs, name, { value: make() });
        return programs[name];
      },
    });
  }
  const kept = new Map(); // textures and shapes by their names
  let frame = null, shown = null;
  let lightsShown = []; // names of what each light needs, the latest first

  const free = (made) => {
    if (made.free) made.free();
    else if (made.mirrorMap) [made.mirrorMap, made.bodyMap, made.threadMap].forEach(free);
    else gl.deleteTexture(made);
  };

  // All of a part of a view but its colours. What is wanted is noted in a set.
  async function gathered(part, place, wanted) {
    // Kept until all of the view is ready.
    const passing = async (name, make) => {
      if (!kept.has(name)) kept.set(name, await make());
      return kept.get(name);
    };
    const once = (name, make) => {
      wanted.add(name);
      return passing(name, make);
    };
    const stage = part.stage || model;
    const design = stage.designs[part.design];
    const state = part.finished ? design.finished : design.dry;
    const wraps = [];
    for (const [number, wrap] of state.wraps.entries()) {
      const packed = stage.maps[wrap.maps];
      const maps = await mapTextures(gl, programs, model, bytes, packed, once);
      // Colours are exchanged in their textures: each wrap on the screen has its own.
      const colours = await once(`colours ${place} ${number} ${packed.textures}`,
        () => colourTextures(gl, packed.textures));
      const { radii, low, step, start, end } = wrap.tube;
      const shape = await once(`tube ${radii} ${[low, step, start, end, packed.size]}`,
        () => tubeShape(gl, bytes, wrap.tube, packed.size));
      const threads = packed.threads + packed.reach;
      const due = colours.threads !== threads || !sameLooks(colours.looks, wrap.looks);
      const pictures = due || !sparing
        ? await lookTextures(gl, bytes, packed, sparing ? passing : once) : null;
      wraps.push({ wrap, packed, maps, colours, shape, threads, due, pictures });
    }
    const bodies = [];
    for (const body of design.bodies) {
      const made = () => meshShape(gl, bytes, body);
      bodies.push({
        body, shape: await once(`${body.points} ${body.low} ${body.step} ${body.colours}`, made),
      });
    }
    const light = part.lit || design.lights[part.light], stops = part.stops || 0;
    const names = light.maps.map((map) => map.high + map.low);
    const lit = await once(`light ${names} ${light.turn} ${stops} ${JSON.stringify(light.card)}`,
      () => lightOf(gl, programs, model, bytes, light, stops));
    const { ground, profile, strips } = light.card;
    const card = await once(`card ${profile} ${strips} ${ground ? ground.size : ""}`,
      () => cardShape(gl, light.card));
    const groundMap = ground && await once(`ground ${ground.shares}`,
      async () => tileTexture(gl, await bitmapOf(await bytes(ground.shares))));
    return { design, lit, wraps, bodies, card, ground, groundMap };
  }

  // What a view needs, made ready; until then what was ready before can be drawn. Only what is wanted
  // now is kept, and the lights shown last: maps of wraps are large.
  async function ready(view) {
    const wanted = new Set(), made = [];
    for (const [place, part] of partsOf(view).entries()) {
      made.push(await gathered(part, place, wanted));
    }
    for (const { wraps } of made) {
      for (const { wrap, packed, colours, threads, due, pictures } of wraps) {
        if (!due) continue;
        putLooks(gl, programs, model, packed, pictures, colours, wrap.looks);
        colours.threads = threads;
      }
    }
    if (!sparing) {
      const needed = [...wanted].filter((name) => OF_A_LIGHT.test(name));
      const others = lightsShown.filter((names) => names.join() !== needed.join());
      lightsShown = [needed, ...others].slice(0, LIGHTS_KEPT);
      lightsShown.flat().forEach((name) => wanted.add(name));
    }
    for (const [name, one] of kept) {
      if (wanted.has(name)) continue;
      free(one);
      kept.delete(name);
    }
    shown = made;
  }

  function drawPart(part, { design, lit, wraps, bodies, card, ground, groundMap }) {
    const area = part.area || [0, 0, part.width, part.height];
    const [left, below, width, height] = area;
    const samples = part.preview ? 0 : outlineSamples(gl, width, height, part.samples);
    const same = frame && frame.width === width && frame.height === height
      && frame.samples === samples && frame.finer === part.samples;
    if (!same) {
      if (frame) frame.free();
      frame = target(gl, programs.shrink, width, height, samples, part.samples);
    }
    const camera = part.camera || model.camera;
    const look = looking(camera);
    const projection = projected(camera, part.size || model.size, { ...part, width, height });
    const turned = product(look.matrix, placing(part.turn, design.middle));
    const { map: lightMap, card: cardMap, above } = lit.turned(part.lightTurn || [0, 0]);
    const background = displayed(above, model.tone);
    const shared = {
      projection, lightFromView: look.toStage, samplesAcross: part.samples, cardBelow: lit.below,
    };
    const whole = { cameraParallel: 0, preview: part.preview, taps: TAPS[part.preview] };
    const put = (kind, made, textures, floats) => {
      const program = programs[kind];
      gl.useProgram(program.program);
      bindTextures(gl, program, textures);
      setUniforms(gl, program, { ...shared, ...floats }, whole);
      gl.bindVertexArray(made.vertices);
      gl.drawElements(gl.TRIANGLES, made.count, gl.UNSIGNED_INT, 0);
    };
    frame.begin();
    if (part.shownPart) {
      const [x, y, wide, high] = part.shownPart, finer = part.samples;
      gl.enable(gl.SCISSOR_TEST);
      gl.scissor((x - left) * finer, (y - below) * finer, wide * finer, high * finer);
    }
    gl.clearColor(...background, 1);
    gl.enable(gl.DEPTH_TEST);
    gl.enable(gl.CULL_FACE);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    for (const { wrap, packed, maps, colours, shape: made } of wraps) {
      const { slopesMap, outsideMap, rowsMap } = maps, { mirrorMap, bodyMap, threadMap } = colours;
      put("wrap", made,
        { lightMap, slopesMap, outsideMap, rowsMap, mirrorMap, bodyMap, threadMap },
        {
          modelView: turned, finishIor: wrap.ior, mapSize: packed.size, mapsPerMm: wrap.mapsPerMm,
        });
    }
    for (const { body, shape: made } of bodies) {
      put("plain", made, { lightMap },
        { modelView: turned, metallicOf: body.metallic, roughnessOf: body.roughness });
    }
    if (ground) {
      put("ground", card, { cardMap, groundMap },
        { modelView: look.matrix, groundDark: ground.dark, groundLight: ground.light });
    } else {
      put("glow", card, { cardMap }, { modelView: look.matrix });
    }
    frame.show([left, below], part.shownPart || area);
  }

  function draw(view) {
    if (canvas.width !== view.width || canvas.height !== view.height) {
      [canvas.width, canvas.height] = [view.width, view.height];
    }
    partsOf(view).forEach((part, place) => drawPart(part, shown[place]));
  }

  // Waits until all that was asked for has been drawn.
  function finish() {
    gl.readPixels(0, 0, 1, 1, gl.RGBA, gl.UNSIGNED_BYTE, new Uint8Array(4));
  }

  return { gl, ready, draw, finish };
}
