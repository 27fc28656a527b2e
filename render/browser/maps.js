"use strict";
// The maps of a wrap, as textures: unpacked by the graphics processor.
// `kept(name, make)` keeps what was made under its name, and makes it where it is missing.

// What colours are made from, texel by texel.
const LOOKS = ["threads", "threadsHigh", "reach"];

// The textures of maps that colours are made from.
async function lookTextures(gl, bytes, packed, kept) {
  const pictures = {};
  for (const name of LOOKS.filter((one) => packed[one])) {
    pictures[name] = await kept(packed[name],
      async () => pictureTexture(gl, await bitmapOf(await bytes(packed[name]))));
  }
  return pictures;
}

// The textures of a wrap's maps, without its colours.
async function mapTextures(gl, programs, model, bytes, packed, kept) {
  const [width, height] = packed.textures;
  const loaded = async (name) => pictureTexture(gl, await bitmapOf(await bytes(name)));
  const slopes = (knee, names, thickest) => kept(
    `slopes ${names} ${packed.textures} ${thickest}`,
    async () => {
      const pictures = [];
      for (const name of names) pictures.push(await loaded(name));
      const [codes, thickness = codes] = pictures;
      const made = emptyTexture(gl, gl.RGBA16F, width, height, { across: gl.REPEAT, halved: true });
      fill(gl, [made], [0, 0, width, height], () => {
        const program = programs.unpack_slopes;
        gl.useProgram(program.program);
        bindTextures(gl, program, { packed: codes, thickness });
        setUniforms(gl, program, {
          knee, mostSlope: model.mostSlope, thickest, targetSize: packed.textures,
        }, { squared: Number(thickness === codes) });
      });
      halve(gl, [made]);
      pictures.forEach((picture) => gl.deleteTexture(picture));
      return made;
    },
  );
  const rowNames = [packed.places, packed.rows, packed.reach];
  const rowsMap = await kept(`rows ${rowNames}`, async () => {
    const [across, along] = packed.size;
    const rows = await loaded(packed.rows), reach = await loaded(packed.reach);
    const [numbers] = await columnsOf(await bytes(packed.places), Uint8Array, 1);
    const places = byteTexture(gl, numbers, across, along);
    const made = emptyTexture(gl, gl.RGBA8, across, along,
      { across: gl.CLAMP_TO_EDGE, halved: false });
    fill(gl, [made], [0, 0, across, along], () => {
      const program = programs.unpack_rows;
      gl.useProgram(program.program);
      bindTextures(gl, program, { places, rows, reach });
    });
    [places, rows, reach].forEach((picture) => gl.deleteTexture(picture));
    return made;
  });
  return {
    slopesMap: await slopes(model.slopeKnee, [packed.slopes], 0),
    outsideMap: await slopes(
      model.outsideKnee, [packed.outside, packed.thickness], packed.thickest),
    rowsMap,
  };
}

const sameLooks = (a, b) => a === b || (Boolean(a) && a.count === b.count
  && a.rows.every((number, i) => number === b.rows[i]));

// Textures for the colours of maps; thread colours may be exchanged in them.
function colourTextures(gl, [width, height]) {
  const halved = { across: gl.REPEAT, halved: true };
  return {
    looks: null, // the table that the colours were made from
    mirrorMap: emptyTexture(gl, gl.SRGB8_ALPHA8, width, height, halved),
    bodyMap: emptyTexture(gl, gl.SRGB8_ALPHA8, width, height, halved),
    threadMap: emptyTexture(gl, gl.RGBA8, width, height, halved),
  };
}

// Puts the colours of a table on the maps.
function putLooks(gl, programs, model, packed, { threads, threadsHigh, reach }, colours, looks) {
  const table = tableTexture(gl, looks.rows, looks.count, 3);
  const drawn = [colours.mirrorMap, colours.bodyMap, colours.threadMap];
  fill(gl, drawn, [0, 0, ...packed.textures], () => {
    const program = programs.unpack_looks;
    gl.useProgram(program.program);
    bindTextures(gl, program, { threads, threadsHigh: threadsHigh || threads, reach, table });
    setUniforms(gl, program,
      { tubeRounding: model.tubeRounding, targetSize: packed.textures },
      { wide: Number(!!threadsHigh) });
  });
  halve(gl, drawn);
  gl.deleteTexture(table);
  colours.looks = looks;
}
