"use strict";
// The maps of a wrap and the light, as textures: unpacked by the graphics processor.

// What is packed of one wrap's maps. Slopes are unpacked at once; looks when they are wanted, since
// thread colours may be exchanged.
async function packedMaps(gl, programs, model, packed) {
  const { blobs } = model;
  const names = ["threads", "threadsHigh", "reach", "rows", "slopes", "outside"];
  const pictures = {};
  for (const name of names) {
    if (packed[name]) pictures[name] = pictureTexture(gl, await bitmapOf(blobs[packed[name]]));
  }
  const [width, height] = packed.textures;
  const whole = [0, 0, width, height];
  const halved = { across: gl.REPEAT, halved: true };
  const slopes = (name, knee, thickest) => {
    const made = emptyTexture(gl, gl.RGBA16F, width, height, halved);
    fill(gl, [made], whole, () => {
      const program = programs.unpack_slopes;
      gl.useProgram(program.program);
      bindTextures(gl, program, { packed: pictures[name] });
      setUniforms(gl, program, {
        knee, mostSlope: model.mostSlope, thickest, targetSize: packed.textures,
      },
        { squared: Number(name === "slopes") });
    });
    halve(gl, [made]);
    gl.deleteTexture(pictures[name]);
    return made;
  };
  return {
    packed, pictures, whole,
    slopesMap: slopes("slopes", model.slopeKnee, 0),
    outsideMap: slopes("outside", model.outsideKnee, packed.thickest),
    rowsMap: pictures.rows,
    looks: null, // the table that the colours were made from
    colours: null,
  };
}

// Puts the colours of a table on the maps; nothing if they are there already.
function putLooks(gl, programs, model, maps, looks) {
  if (maps.looks === looks) return;
  const [, , width, height] = maps.whole;
  if (!maps.colours) {
    const halved = { across: gl.REPEAT, halved: true };
    maps.colours = {
      mirrorMap: emptyTexture(gl, gl.SRGB8_ALPHA8, width, height, halved),
      bodyMap: emptyTexture(gl, gl.SRGB8_ALPHA8, width, height, halved),
      threadMap: emptyTexture(gl, gl.RGBA8, width, height, halved),
    };
  }
  const table = tableTexture(gl, looks.rows, looks.count, 3);
  const drawn = Object.values(maps.colours);
  fill(gl, drawn, maps.whole, () => {
    const program = programs.unpack_looks, { threads, threadsHigh, reach } = maps.pictures;
    gl.useProgram(program.program);
    bindTextures(gl, program, { threads, threadsHigh: threadsHigh || threads, reach, table });
    setUniforms(gl, program,
      { tubeRounding: model.tubeRounding, targetSize: maps.packed.textures },
      { wide: Number(!!threadsHigh) });
  });
  halve(gl, drawn);
  gl.deleteTexture(table);
  maps.looks = looks;
}

// The blurred maps of a light, one above the other as the shading looks them up.
async function lightTexture(gl, programs, model, light) {
  const side = model.lightSide + 2;
  const made = emptyTexture(gl, gl.RGBA16F, side, side * light.maps.length,
    { across: gl.CLAMP_TO_EDGE, halved: false });
  for (const [level, map] of light.maps.entries()) {
    const high = pictureTexture(gl, await bitmapOf(model.blobs[map.high]));
    const low = pictureTexture(gl, await bitmapOf(model.blobs[map.low]));
    const from = level * side;
    fill(gl, [made], [0, from, side, side], () => {
      const program = programs.unpack_light;
      gl.useProgram(program.program);
      bindTextures(gl, program, { high, low });
      setUniforms(gl, program, {
        codes: model.lightCodes, lowCodes: model.lightLowCodes, stops: map.stops,
        side: model.lightSide, rowFrom: from,
      });
    });
    gl.deleteTexture(high);
    gl.deleteTexture(low);
  }
  return made;
}
