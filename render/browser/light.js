"use strict";
// The light on a stage: unpacked from the page, and turned and blurred anew where it is moved. Its
// sharp map comes without the card, which is put before it here, since it stays where it is. The
// blurred maps come with it; once the light has moved they are made anew from the sharp one.

const AROUND = [64, 32]; // directions that wide maps are blurred from: columns, rows
const WIDE_SIDE = 32; // texels of a side of a wide map that is blurred here
const NARROW = 2; // blurred maps of which the middle of the lobe is summed from the sharp map
const NARROW_SIDE = 128; // texels of a side of these
const SEEN = 256; // angles round the rod for which the card is looked up
// The lamps of every light stand above and in front; this direction leans as the light does.
const LEANING = Math.PI / 4;
const LEAST_TURN = 1e-6; // rad, less than which is rounding

// A half float of each channel, to be drawn into and looked up between texels.
const lightTarget = (gl, width, height) => emptyTexture(gl, gl.RGBA16F, width, height,
  { across: gl.CLAMP_TO_EDGE, halved: false });

// Fills rows of a texture by a program.
function fillBy(gl, program, made, area, textures, floats) {
  fill(gl, made, area, () => {
    gl.useProgram(program.program);
    bindTextures(gl, program, textures);
    setUniforms(gl, program, floats);
  });
}

// Unpacks maps of a light, one above the other as the shading looks them up; brighter by so many
// stops.
async function lightMaps(gl, programs, model, bytes, maps, stops, into, rowFrom = 0) {
  const side = model.lightSide + 2;
  const loaded = async (name) => pictureTexture(gl, await bitmapOf(await bytes(name)));
  const pictures = await Promise.all(maps.map(async (map) => ({
    high: await loaded(map.high), low: await loaded(map.low),
  })));
  for (const [k, map] of maps.entries()) {
    const { high, low } = pictures[k], from = rowFrom + k * side;
    fillBy(gl, programs.unpack_light, [into], [0, from, side, side], { high, low }, {
      codes: model.lightCodes, lowCodes: model.lightLowCodes,
      stops: map.stops.map((stop) => stop + stops), side: model.lightSide, rowFrom: from,
    });
    gl.deleteTexture(high);
    gl.deleteTexture(low);
  }
}

// From directions of the stage to those of a light that was turned by `own` and is then turned round
// the rod and leant along it, rad. Column by column.
function lightBack([round, along], own) {
  const aboutRod = (turn) => {
    const [c, s] = [Math.cos(turn), Math.sin(turn)];
    return [[1, 0, 0], [0, c, -s], [0, s, c]];
  };
  const [c, s] = [Math.cos(along), Math.sin(along)];
  const lean = [[c, s, 0], [-s, c, 0], [0, 0, 1]]; // what is overhead moves towards the tip
  const times = (a, b) => a.map((row) => [0, 1, 2].map(
    (j) => row.reduce((sum, value, k) => sum + value * b[k][j], 0)));
  const steps = [aboutRod(round + own), aboutRod(LEANING), lean, aboutRod(-LEANING), aboutRod(-own)];
  // The inverse of a rotation is its transpose: rows become columns.
  return steps.reduce(times).flat();
}

// Radius of the rod as light sees it that is slanted along it: scenes.stage.outline.silhouettes. A row
// for each slant of the rows about the rod, from that of light along it to that of light across it.
function silhouettesOf(gl, { step, radius }) {
  const slants = AROUND[1], count = radius.length, table = new Float32Array(4 * slants * count);
  const most = Math.max(...radius);
  for (let row = 0; row < slants; row += 1) {
    const polar = ((row + 0.5) / (2 * slants)) * Math.PI, tangent = Math.cos(polar) / Math.sin(polar);
    const last = Math.min(Math.floor((most * tangent) / step), count - 1);
    for (let i = 0; i < count; i += 1) {
      let largest = 0;
      for (let j = Math.max(i - last, 0); j <= Math.min(i + last, count - 1); j += 1) {
        largest = Math.max(largest, radius[j] ** 2 - (((j - i) * step) / tangent) ** 2);
      }
      table[4 * (row * count + i)] = Math.sqrt(largest);
    }
  }
  return tableTexture(gl, table, count, slants);
}

// The points of a card, and how the rod sees it.
function cardTables(gl, card) {
  const count = card.profile.length / 2;
  const profile = Array.from({ length: count }, (_, i) => card.profile.slice(2 * i, 2 * i + 2));
  const points = profile.flatMap(([y, z], i) => {
    const [before, after] = [profile[Math.max(i - 1, 0)], profile[Math.min(i + 1, count - 1)]];
    const edge = [after[0] - before[0], after[1] - before[1]];
    const length = Math.hypot(...edge);
    return [y, z, -edge[1] / length, edge[0] / length];
  });
  const [first, last, reach] = card.seen;
  const angles = [], away = profile.map((point) => Math.hypot(...point));
  for (const [y, z] of profile) {
    const angle = Math.atan2(-y, z), before = angles.length ? angles[angles.length - 1] : angle;
    angles.push(angle + 2 * Math.PI * Math.round((before - angle) / (2 * Math.PI)));
  }
  const seen = [];
  for (let k = 0, i = first; k < SEEN; k += 1) {
    const angle = angles[first] + ((angles[last] - angles[first]) * k) / (SEEN - 1);
    while (i + 2 < count && i + 1 < last && angles[i + 1] < angle) i += 1;
    const share = Math.min(Math.max((angle - angles[i]) / (angles[i + 1] - angles[i]), 0), 1);
    seen.push(away[i] + share * (away[i + 1] - away[i]), Math.min(i + share, last - 1e-3), 0, 0);
  }
  const columns = card.strips.slice(1).flatMap((end, i) => Array.from(
    { length: card.columns },
    (_, k) => card.strips[i] + (k / card.columns) * (end - card.strips[i])));
  columns.push(card.strips.at(-1));
  return {
    count,
    columns: columns.length,
    cardPoints: tableTexture(gl, points, count, 1),
    cardColumns: tableTexture(gl, columns.flatMap((x) => [x, 0, 0, 0]), columns.length, 1),
    silhouettes: silhouettesOf(gl, card.rod),
    cardSeen: tableTexture(gl, seen, SEEN, 1),
    floats: { cardAngles: [angles[first], angles[last]], cardReach: reach },
    lit: { albedo: card.albedo, rod: [card.rod.start, card.rod.step, Math.max(...card.rod.radius)] },
  };
}

// A light, ready to be moved.
async function lightOf(gl, programs, model, bytes, light, stops) {
  const side = model.lightSide + 2, rows = light.maps.length;
  const bareMap = lightTarget(gl, side, side);
  const sent = lightTarget(gl, side, rows * side);
  await Promise.all([
    lightMaps(gl, programs, model, bytes, light.maps.slice(0, 1), stops, bareMap),
    lightMaps(gl, programs, model, bytes, light.maps.slice(1), stops, sent, side),
  ]);
  const card = cardTables(gl, light.card);
  const meanRadiance = light.mean.map((one) => one * 2 ** stops);
  const sharp = (into, cardLight, back, border) => {
    const whole = model.lightSide + 2 * border;
    fillBy(gl, programs.light_sharp, [into], [0, 0, whole, whole],
      { bareMap, cardSeen: card.cardSeen, cardLight },
      { ...card.floats, lightBack: back, border });
  };
  // The light about the rod, and the card in it.
  const onCard = () => ({
    source: lightTarget(gl, 2 * AROUND[0], 2 * AROUND[1]),
    sourceMean: lightTarget(gl, 1, 1),
    unshaded: lightTarget(gl, card.count, 1),
    card: lightTarget(gl, card.columns, card.count),
  });
  const still = { map: sent, ...onCard() };
  let moved = null, movedBy = "";

  function targets() {
    return {
      map: lightTarget(gl, side, rows * side),
      sharp: emptyTexture(gl, gl.RGBA16F, model.lightSide, model.lightSide,
        { across: gl.CLAMP_TO_EDGE, halved: true }),
      ...onCard(),
      around: lightTarget(gl, ...AROUND),
      toward: lightTarget(gl, ...AROUND),
      wide: lightTarget(gl, WIDE_SIDE + 2, (rows - 1) * (WIDE_SIDE + 2)),
      narrow: lightTarget(gl, NARROW_SIDE + 2, NARROW * (NARROW_SIDE + 2)),
    };
  }

  // Radiance of the card where it ends above: in the middle column.
  function readAbove(texture) {
    const floats = new Float32Array(4), target = gl.createFramebuffer();
    gl.bindFramebuffer(gl.FRAMEBUFFER, target);
    gl.framebufferTexture2D(gl.FRAMEBUFFER, gl.COLOR_ATTACHMENT0, gl.TEXTURE_2D, texture, 0);
    gl.readPixels(card.columns >> 1, card.count - 1, 1, 1, gl.RGBA, gl.FLOAT, floats);
    gl.bindFramebuffer(gl.FRAMEBUFFER, null);
    gl.deleteFramebuffer(target);
    return [...floats.slice(0, 3)];
  }

  function lightCard(made, back) {
    const { source, sourceMean, unshaded } = made, { cardPoints, cardColumns, silhouettes } = card;
    fillBy(gl, programs.light_source, [source], [0, 0, 2 * AROUND[0], 2 * AROUND[1]],
      { bareMap }, { lightBack: back, targetSize: AROUND.map((one) => 2 * one) });
    fillBy(gl, programs.light_mean, [sourceMean], [0, 0, 1, 1], { source }, {});
    fillBy(gl, programs.light_unshaded, [unshaded], [0, 0, card.count, 1],
      { source, cardPoints }, {});
    fillBy(gl, programs.light_card, [made.card], [0, 0, card.columns, card.count],
      { source, sourceMean, unshaded, cardPoints, cardColumns, silhouettes },
      { ...card.lit, meanRadiance });
    made.above = readAbove(made.card);
    sharp(made.map, made.card, back, 1);
  }
  lightCard(still, lightBack([0, 0], light.turn));
  [still.source, still.sourceMean, still.unshaded].forEach((one) => gl.deleteTexture(one));

  function move(turn) {
    const back = lightBack(turn, light.turn), made = moved || targets();
    lightCard(made, back);
    sharp(made.sharp, made.card, back, 0);
    halve(gl, [made.sharp]);
    fillBy(gl, programs.light_around, [made.around, made.toward], [0, 0, ...AROUND],
      { source: made.source, cardSeen: card.cardSeen, cardLight: made.card },
      { ...card.floats, targetSize: AROUND });
    fillBy(gl, programs.light_wide, [made.wide],
      [0, 0, WIDE_SIDE + 2, (rows - 1) * (WIDE_SIDE + 2)],
      { around: made.around, toward: made.toward },
      { wideSide: WIDE_SIDE, finishIndex: model.lightIor });
    fillBy(gl, programs.light_narrow, [made.narrow],
      [0, 0, NARROW_SIDE + 2, NARROW * (NARROW_SIDE + 2)],
      { sharp: made.sharp, wide: made.wide },
      { wideSide: WIDE_SIDE, narrowSide: NARROW_SIDE });
    const spread = (coarse, coarseSide, mapFrom, from, count) => fillBy(gl, programs.light_spread,
      [made.map], [0, from * side, side, count * side], { coarse },
      { coarseSide, mapFrom, rowFrom: from * side });
    spread(made.narrow, NARROW_SIDE, 0, 1, NARROW);
    spread(made.wide, WIDE_SIDE, NARROW, 1 + NARROW, rows - 1 - NARROW);
    return made;
  }

  return {
    // From the axis of the rod down to the card, mm; huge where it ends behind the axis.
    below: light.card.profile[2 * light.card.seen[0] + 1] > 0
      ? -Math.min(...light.card.profile.filter((_, i) => i % 2 === 0)) : 1e9,
    // turn: round the rod and along it, rad. Gives the maps, and the radiance of the card: as a map, and
    // where it ends above.
    turned(turn) {
      if (turn.every((one) => Math.abs(one) < LEAST_TURN)) return still;
      if (movedBy !== turn.join()) [moved, movedBy] = [move(turn), turn.join()];
      return moved;
    },
    free() {
      const { cardPoints, cardColumns, silhouettes, cardSeen } = card;
      [bareMap, sent, still.card, cardPoints, cardColumns, silhouettes, cardSeen].forEach(
        (one) => gl.deleteTexture(one));
      if (moved) {
        Object.values(moved).forEach((one) => one instanceof WebGLTexture && gl.deleteTexture(one));
      }
    },
  };
}
