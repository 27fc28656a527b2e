"use strict";
// From bytes, or the text of a page, to numbers and pictures: the inverse of scenes.packing.images.

// Bytes of base64, a loop: a function called for each byte leaves megabytes to be collected.
function bytesOf(text) {
  const characters = atob(text), bytes = new Uint8Array(characters.length);
  for (let i = 0; i < bytes.length; i += 1) bytes[i] = characters.charCodeAt(i);
  return bytes;
}

// A picture whose bytes are numbers: nothing may alter them on the way.
function bitmapOf(bytes) {
  return createImageBitmap(new Blob([bytes], { type: "image/webp" }), {
    premultiplyAlpha: "none", colorSpaceConversion: "none",
  });
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
