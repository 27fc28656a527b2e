"use strict";
// WebGL2 in a few functions: context, programs, textures, targets. All of it is made anew after the
// context was lost, so nothing here keeps anything.

// The context of a canvas, or null where what the drawing needs is missing: WebGL2, targets of half
// floats, textures of `side` texels.
function openContext(canvas, side) {
  const gl = canvas.getContext("webgl2", {
    alpha: false, antialias: false, depth: false, powerPreference: "high-performance",
  });
  if (!gl || gl.isContextLost()) return null;
  const half = gl.getExtension("EXT_color_buffer_float")
    || gl.getExtension("EXT_color_buffer_half_float");
  return half && gl.getParameter(gl.MAX_TEXTURE_SIZE) >= side ? gl : null;
}

// A program with its uniforms by name. A shader that does not compile is an error with its text.
function linked(gl, [vertex, fragment], attributes = []) {
  const program = gl.createProgram();
  for (const [kind, text] of [[gl.VERTEX_SHADER, vertex], [gl.FRAGMENT_SHADER, fragment]]) {
    const shader = gl.createShader(kind);
    gl.shaderSource(shader, text);
    gl.compileShader(shader);
    if (!gl.getShaderParameter(shader, gl.COMPILE_STATUS) && !gl.isContextLost()) {
      const lines = text.split("\n").map((line, i) => `${i + 1}: ${line}`).join("\n");
      throw new Error(`${gl.getShaderInfoLog(shader)}\n${lines}`);
    }
    gl.attachShader(program, shader);
  }
  attributes.forEach((name, i) => gl.bindAttribLocation(program, i, name));
  gl.linkProgram(program);
  if (!gl.getProgramParameter(program, gl.LINK_STATUS) && !gl.isContextLost()) {
    throw new Error(gl.getProgramInfoLog(program));
  }
  const at = {};
  for (let i = 0; i < (gl.getProgramParameter(program, gl.ACTIVE_UNIFORMS) || 0); i += 1) {
    const { name } = gl.getActiveUniform(program, i);
    at[name] = gl.getUniformLocation(program, name);
  }
  return { program, at };
}

// Uniforms by name; those that the program does not read are left out.
function setUniforms(gl, { at }, floats, whole = {}) {
  for (const [name, value] of Object.entries(floats)) {
    if (!(name in at)) continue;
    const list = typeof value === "number" ? [value] : value;
    if (list.length === 16) gl.uniformMatrix4fv(at[name], false, list);
    else if (list.length === 9) gl.uniformMatrix3fv(at[name], false, list);
    else gl[`uniform${list.length}fv`](at[name], list);
  }
  for (const [name, value] of Object.entries(whole)) {
    if (name in at) gl.uniform1i(at[name], value);
  }
}

// Textures by the name of their sampler.
function bindTextures(gl, { at }, textures) {
  Object.entries(textures).forEach(([name, texture], unit) => {
    if (!(name in at)) return;
    gl.activeTexture(gl.TEXTURE0 + unit);
    gl.bindTexture(gl.TEXTURE_2D, texture);
    gl.uniform1i(at[name], unit);
  });
}

function wrapped(gl, across, filtered) {
  gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_WRAP_S, across);
  gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_WRAP_T, gl.CLAMP_TO_EDGE);
  gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_MAG_FILTER, filtered ? gl.LINEAR : gl.NEAREST);
  gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_MIN_FILTER, filtered || gl.NEAREST);
}

const BAND = 256; // rows of a picture that are sent at once

// Sends a picture to the bound texture, and closes it. It goes in bands: Chromium keeps the memory
// through which a whole one has gone.
function sendBitmap(gl, bitmap) {
  const { width, height } = bitmap;
  gl.pixelStorei(gl.UNPACK_COLORSPACE_CONVERSION_WEBGL, gl.NONE);
  for (let row = 0; row < height; row += BAND) {
    gl.pixelStorei(gl.UNPACK_SKIP_ROWS, row);
    gl.texSubImage2D(gl.TEXTURE_2D, 0, 0, row, width, Math.min(BAND, height - row), gl.RGBA,
      gl.UNSIGNED_BYTE, bitmap);
    gl.flush();
  }
  gl.pixelStorei(gl.UNPACK_SKIP_ROWS, 0);
  bitmap.close();
}

// A picture's bytes as they are, read texel by texel.
function pictureTexture(gl, bitmap) {
  const { width, height, rgb } = bitmap;
  if (rgb) return byteTexture(gl, rgb, width, height, gl.RGB8, gl.RGB);
  const texture = gl.createTexture();
  gl.bindTexture(gl.TEXTURE_2D, texture);
  gl.texStorage2D(gl.TEXTURE_2D, 1, gl.RGBA8, width, height);
  sendBitmap(gl, bitmap);
  wrapped(gl, gl.CLAMP_TO_EDGE, null);
  return texture;
}

// A tile that is repeated both ways, seen from near and far.
function tileTexture(gl, bitmap) {
  const { width, height, rgb } = bitmap;
  const texture = emptyTexture(gl, rgb ? gl.RGB8 : gl.RGBA8, width, height,
    { across: gl.REPEAT, halved: true });
  gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_WRAP_T, gl.REPEAT);
  if (rgb) {
    gl.pixelStorei(gl.UNPACK_ALIGNMENT, 1);
    gl.texSubImage2D(gl.TEXTURE_2D, 0, 0, 0, width, height, gl.RGB, gl.UNSIGNED_BYTE, rgb);
    gl.pixelStorei(gl.UNPACK_ALIGNMENT, 4);
  } else {
    sendBitmap(gl, bitmap);
  }
  halve(gl, [texture]);
  return texture;
}

// Floats, read texel by texel: `rows` of `width` times four.
function tableTexture(gl, numbers, width, rows) {
  const texture = gl.createTexture();
  gl.bindTexture(gl.TEXTURE_2D, texture);
  const data = new Float32Array(numbers);
  gl.texImage2D(gl.TEXTURE_2D, 0, gl.RGBA32F, width, rows, 0, gl.RGBA, gl.FLOAT, data);
  wrapped(gl, gl.CLAMP_TO_EDGE, null);
  return texture;
}

// Bytes, read texel by texel: one for each texel, or as many as the format has.
function byteTexture(gl, bytes, width, rows, inside = gl.R8, format = gl.RED) {
  const texture = gl.createTexture();
  gl.bindTexture(gl.TEXTURE_2D, texture);
  gl.pixelStorei(gl.UNPACK_ALIGNMENT, 1);
  gl.texImage2D(gl.TEXTURE_2D, 0, inside, width, rows, 0, format, gl.UNSIGNED_BYTE, bytes);
  gl.pixelStorei(gl.UNPACK_ALIGNMENT, 4);
  wrapped(gl, gl.CLAMP_TO_EDGE, null);
  return texture;
}

// An empty texture to be drawn into; with its halvings, if it is to be seen from afar.
function emptyTexture(gl, format, width, height, { across, halved }) {
  const levels = halved ? 1 + Math.floor(Math.log2(Math.max(width, height))) : 1;
  const texture = gl.createTexture();
  gl.bindTexture(gl.TEXTURE_2D, texture);
  gl.texStorage2D(gl.TEXTURE_2D, levels, format, width, height);
  wrapped(gl, across, halved ? gl.LINEAR_MIPMAP_LINEAR : gl.LINEAR);
  return texture;
}

// Draws into textures: one triangle over the rectangle [x, y, width, height] of them.
function fill(gl, textures, [x, y, width, height], draw) {
  const target = gl.createFramebuffer();
  gl.bindFramebuffer(gl.FRAMEBUFFER, target);
  textures.forEach((texture, i) => gl.framebufferTexture2D(
    gl.FRAMEBUFFER, gl.COLOR_ATTACHMENT0 + i, gl.TEXTURE_2D, texture, 0));
  gl.drawBuffers(textures.map((_, i) => gl.COLOR_ATTACHMENT0 + i));
  gl.viewport(x, y, width, height);
  gl.disable(gl.DEPTH_TEST);
  gl.disable(gl.CULL_FACE);
  gl.bindVertexArray(null);
  draw();
  gl.drawArrays(gl.TRIANGLES, 0, 3);
  gl.bindFramebuffer(gl.FRAMEBUFFER, null);
  gl.deleteFramebuffer(target);
}

function halve(gl, textures) {
  for (const texture of textures) {
    gl.bindTexture(gl.TEXTURE_2D, texture);
    gl.generateMipmap(gl.TEXTURE_2D);
  }
}

// What bodies are drawn into: `samples` places of each pixel for outlines; with `finer` of 2, twice
// as wide and high as the picture, which is then the mean of 2 x 2.
function target(gl, shrink, width, height, samples, finer) {
  const [wide, high] = [width * finer, height * finer];
  const buffer = (format) => {
    const one = gl.createRenderbuffer();
    gl.bindRenderbuffer(gl.RENDERBUFFER, one);
    gl.renderbufferStorageMultisample(gl.RENDERBUFFER, samples, format, wide, high);
    return one;
  };
  const buffers = [buffer(gl.RGBA8), buffer(gl.DEPTH_COMPONENT24)];
  const drawn = gl.createFramebuffer();
  gl.bindFramebuffer(gl.FRAMEBUFFER, drawn);
  [gl.COLOR_ATTACHMENT0, gl.DEPTH_ATTACHMENT].forEach((place, i) => gl.framebufferRenderbuffer(
    gl.FRAMEBUFFER, place, gl.RENDERBUFFER, buffers[i]));
  // The canvas itself takes no copy of a picture that has several samples.
  const fine = emptyTexture(gl, gl.RGBA8, wide, high, { across: gl.CLAMP_TO_EDGE, halved: false });
  const single = gl.createFramebuffer();
  gl.bindFramebuffer(gl.FRAMEBUFFER, single);
  gl.framebufferTexture2D(gl.FRAMEBUFFER, gl.COLOR_ATTACHMENT0, gl.TEXTURE_2D, fine, 0);
  return {
    width, height, samples, finer,
    begin() {
      gl.bindFramebuffer(gl.FRAMEBUFFER, drawn);
      gl.viewport(0, 0, wide, high);
    },
    // Shows the picture on the canvas, its lower left corner at x, y; of it only what lies in the
    // rectangle [x, y, width, height] of the canvas.
    show([x, y], shownPart) {
      gl.bindFramebuffer(gl.READ_FRAMEBUFFER, drawn);
      gl.bindFramebuffer(gl.DRAW_FRAMEBUFFER, single);
      gl.blitFramebuffer(0, 0, wide, high, 0, 0, wide, high, gl.COLOR_BUFFER_BIT, gl.NEAREST);
      gl.bindFramebuffer(gl.FRAMEBUFFER, null);
      gl.viewport(x, y, width, height);
      gl.enable(gl.SCISSOR_TEST);
      gl.scissor(...shownPart);
      gl.disable(gl.DEPTH_TEST);
      gl.disable(gl.CULL_FACE);
      gl.bindVertexArray(null);
      gl.useProgram(shrink.program);
      bindTextures(gl, shrink, { fine });
      setUniforms(gl, shrink, { corner: [x, y] }, { finer });
      gl.drawArrays(gl.TRIANGLES, 0, 3);
      gl.disable(gl.SCISSOR_TEST);
    },
    free() {
      buffers.forEach((one) => gl.deleteRenderbuffer(one));
      gl.deleteFramebuffer(drawn);
      gl.deleteFramebuffer(single);
      gl.deleteTexture(fine);
    },
  };
}
