"use strict";
// From bytes, or the text of a page, to numbers and pictures: the inverse of scenes.packing.images.

// The value of each digit of the text, by its character code (render.browser.model.text_of).
const DIGITS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz!#$%&()*+-;,=>?@^_`{|}~";
const VALUES = new Uint8Array(128);
[...DIGITS].forEach((digit, value) => { VALUES[digit.charCodeAt(0)] = value; });

// Bytes of text to the base 85: each five digits are four bytes, the first one uppermost. Of a last
// group only the digits that its bytes need are there; the others count as the last one.
function bytesOf(text) {
  const groups = Math.ceil(text.length / 5), view = new DataView(new ArrayBuffer(4 * groups));
  for (let group = 0, at = 0; group < groups; group += 1) {
    let number = 0;
    for (let k = 0; k < 5; k += 1, at += 1) {
      number = 85 * number + (at < text.length ? VALUES[text.charCodeAt(at)] : 84);
    }
    view.setUint32(4 * group, number);
  }
  return new Uint8Array(view.buffer, 0, Math.floor((4 * text.length) / 5));
}

// A picture whose bytes are numbers: nothing may alter them on the way.
async function bitmapOf(bytes) {
  return pixmapOf(bytes) || createImageBitmap(new Blob([bytes], { type: "image/webp" }), {
    premultiplyAlpha: "none", colorSpaceConversion: "none",
  });
}

// A portable pixmap, three bytes `rgb` for each texel, as a draft has it; null for another file.
function pixmapOf(bytes) {
  const header = /^P6\n(\d+) (\d+)\n255\n/.exec(String.fromCharCode(...bytes.subarray(0, 32)));
  if (!header) return null;
  return { width: +header[1], height: +header[2], rgb: bytes.subarray(header[0].length) };
}

// Whole numbers, kept as differences down each column, column after column. Returns an array for
// each column.
async function columnsOf(bytes, Kind, columns) {
  const stream = new Blob([bytes]).stream();
  const inflated = stream.pipeThrough(new DecompressionStream("deflate"));
  const steps = new Kind(await new Response(inflated).arrayBuffer());
  const rows = steps.length / columns;
  for (let column = 0; column < columns; column += 1) {
    const end = (column + 1) * rows;
    for (let i = column * rows + 1; i < end; i += 1) steps[i] += steps[i - 1];
  }
  return Array.from({ length: columns }, (_, k) => steps.subarray(k * rows, (k + 1) * rows));
}

// The columns side by side again, each number made a float.
function woven(columns, float) {
  const rows = columns[0].length, result = new Float32Array(rows * columns.length);
  columns.forEach((column, k) => {
    for (let i = 0; i < rows; i += 1) result[i * columns.length + k] = float(column[i], k);
  });
  return result;
}
