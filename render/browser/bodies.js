"use strict";
// Shapes: points and triangles for the graphics processor, from what scenes.packing.meshes packed.

const ATTRIBUTES = ["position", "normal", "tcoord", "baseColour", "tile"];
const COMPONENTS = [3, 3, 2, 3, 2];

// Vertex array of attributes in the order of ATTRIBUTES (null for none, or left out), and triangles.
function shape(gl, arrays, faces) {
  const vertices = gl.createVertexArray();
  const buffers = [];
  const buffer = (target) => {
    buffers.push(gl.createBuffer());
    gl.bindBuffer(target, buffers.at(-1));
  };
  gl.bindVertexArray(vertices);
  arrays.forEach((array, i) => {
    if (!array) return;
    buffer(gl.ARRAY_BUFFER);
    gl.bufferData(gl.ARRAY_BUFFER, array, gl.STATIC_DRAW);
    gl.enableVertexAttribArray(i);
    gl.vertexAttribPointer(i, COMPONENTS[i], gl.FLOAT, false, 0, 0);
  });
  buffer(gl.ELEMENT_ARRAY_BUFFER);
  gl.bufferData(gl.ELEMENT_ARRAY_BUFFER, faces, gl.STATIC_DRAW);
  gl.bindVertexArray(null);
  return {
    vertices,
    buffers,
    count: faces.length,
    free() {
      gl.deleteVertexArray(vertices);
      buffers.forEach((one) => gl.deleteBuffer(one));
    },
  };
}

// A tube of radii round the axis; its first angle stands again at the end, where the maps begin anew.
async function tubeShape(gl, bytes, tube, [nt, nz]) {
  const [stations, angles] = tube.size;
  const [radii] = await columnsOf(await bytes(tube.radii), Uint16Array, 1);
  const count = stations * (angles + 1);
  const points = new Float32Array(3 * count), normals = new Float32Array(3 * count);
  const places = new Float32Array(2 * count);
  const faces = new Uint32Array(6 * (stations - 1) * angles);
  let at = 0, corner = 0;
  for (let i = 0; i < stations; i += 1) {
    const along = i / (stations - 1);
    for (let j = 0; j <= angles; j += 1, at += 1) {
      const turn = (2 * Math.PI * (j % angles)) / angles;
      const radius = tube.low + radii[i * angles + (j % angles)] * tube.step;
      const [c, s] = [Math.cos(turn), Math.sin(turn)];
      points.set([radius * c, radius * s, tube.start + along * (tube.end - tube.start)], 3 * at);
      normals.set([c, s, 0], 3 * at);
      places.set([j / angles + 0.5 / nt, (along * (nz - 1) + 0.5) / nz], 2 * at);
      if (i + 1 < stations && j < angles) {
        const above = at + angles + 1;
        faces.set([at, at + 1, above + 1, at, above + 1, above], corner);
        corner += 6;
      }
    }
  }
  return shape(gl, [points, normals, places, null], faces);
}

// Linear light of a byte of sRGB (IEC 61966-2-1).
function linearOf(byte) {
  const value = byte / 255;
  return value <= 0.04045 ? value / 12.92 : ((value + 0.055) / 1.055) ** 2.4;
}

async function meshShape(gl, bytes, mesh) {
  const columns = async (name, Kind) => columnsOf(await bytes(mesh[name]), Kind, 3);
  const points = woven(await columns("points", Uint16Array),
    (step, k) => mesh.low[k] + step * mesh.step[k]);
  const normals = woven(await columns("normals", Int8Array), (step) => step / 127);
  const colours = woven(await columns("colours", Uint8Array), linearOf);
  const faces = await columns("faces", Int32Array);
  const corners = new Uint32Array(3 * faces[0].length);
  faces.forEach((column, k) => column.forEach((corner, i) => { corners[3 * i + k] = corner; }));
  return shape(gl, [points, normals, null, colours], corners);
}

// A sweep of card: a profile of points, y and z, cut into strips along the rod. Its places on the map
// of its radiance are texels' middles. Those on the tiles of its ground, if it has one, are counted from
// under the rod: on the level part, where the profile begins, towards the back.
function cardShape(gl, { profile, strips, columns, ground }) {
  const points = [], places = [], tiles = [], corners = [];
  const rows = profile.length / 2, wide = strips.length, texels = columns * (wide - 1) + 1;
  let run = -profile[1];
  for (let i = 0; i < rows; i += 1) {
    const [y, z] = profile.slice(2 * i, 2 * i + 2);
    if (i) run += Math.hypot(y - profile[2 * i - 2], z - profile[2 * i - 1]);
    strips.forEach((x, j) => {
      points.push(x, y, z);
      if (ground) tiles.push(x / ground.size[0], run / ground.size[1]);
      places.push((columns * j + 0.5) / texels, (i + 0.5) / rows);
      if (!i || !j) return;
      const at = i * wide + j, [a, b, c, d] = [at - wide - 1, at - wide, at, at - 1];
      corners.push(a, b, c, a, c, d);
    });
  }
  const normals = new Float32Array(points.length);
  for (let i = 1; i < points.length; i += 3) normals[i] = 1;
  const arrays = [new Float32Array(points), normals, new Float32Array(places), null,
    ground ? new Float32Array(tiles) : null];
  return shape(gl, arrays, new Uint32Array(corners));
}
