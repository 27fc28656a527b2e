/* The sheet of a wrap unrolled: its colours from the packed maps, and the lines of the template, in
   millimetres. A place on it has an angle from the guide line (rad) and a distance from the butt. */

"use strict";

(() => {
  const STEPS = 4096; // of linear light, for the curve of the screen
  const SLICES = 48; // pieces along the blank, each as wide as its circumference
  const MM = { steps: [1, 2, 5, 10, 20, 50, 100, 200], unit: 1, name: "mm" };
  const INCHES = { steps: [0.125, 0.25, 0.5, 1, 2, 4, 8], unit: 25.4, name: "in" };
  const LABEL_ROOM = 44; // pixels between the names of two ticks

  const curve = Uint8Array.from({ length: STEPS + 1 }, (_, i) => {
    const linear = i / STEPS;
    return Math.round(255 * (linear <= 0.0031308 ? 12.92 * linear : 1.055 * linear ** (1 / 2.4) - 0.055));
  });
  const shown = (linear) => curve[Math.round(STEPS * Math.min(1, Math.max(0, linear)))];

  async function pixelsOf(bytes) {
    const bitmap = await window.turnlight_drawing.bitmapOf(bytes);
    if (bitmap.rgb) {
      const { width, height, rgb } = bitmap, data = new Uint8Array(4 * width * height);
      for (let from = 0, to = 0; from < rgb.length; from += 3, to += 4) {
        for (let i = 0; i < 3; i += 1) data[to + i] = rgb[from + i];
      }
      return { data, width, height };
    }
    const canvas = new OffscreenCanvas(bitmap.width, bitmap.height);
    const context = canvas.getContext("2d", { willReadFrequently: true });
    context.drawImage(bitmap, 0, 0);
    bitmap.close();
    return context.getImageData(0, 0, canvas.width, canvas.height);
  }

  /* The colours of a wrap, a row for each station from the butt; its left edge is the seam. The colour
     of a look is that of its thread laid flat: what mirrors and what does not, together. */
  async function coloursOf(parts, maps, looks) {
    const { data: threads, width, height } = await pixelsOf(await parts.get(maps.threads));
    const high = maps.threadsHigh ? (await pixelsOf(await parts.get(maps.threadsHigh))).data : null;
    const { count, rows } = looks;
    const linear = new Float32Array(3 * count);
    const whole = new Uint32Array(count);
    for (let look = 0; look < count; look += 1) {
      for (let i = 0; i < 3; i += 1) linear[3 * look + i] = rows[4 * look + i] + rows[4 * (count + look) + i];
      const [r, g, b] = [0, 1, 2].map((i) => shown(linear[3 * look + i]));
      whole[look] = (255 << 24) | (b << 16) | (g << 8) | r;
    }
    const picture = new ImageData(width, height);
    const result = new Uint32Array(picture.data.buffer);
    const half = width >> 1;
    for (let y = 0; y < height; y += 1) {
      for (let x = 0; x < width; x += 1) {
        const at = 4 * (y * width + x);
        const own = threads[at] + (high ? high[at] << 8 : 0);
        const share = threads[at + 2] / 255;
        let colour = whole[own];
        if (share > 0) {
          const other = threads[at + 1] + (high ? high[at + 1] << 8 : 0);
          const mixed = (i) => shown(linear[3 * own + i] * (1 - share) + linear[3 * other + i] * share);
          colour = (255 << 24) | (mixed(2) << 16) | (mixed(1) << 8) | mixed(0);
        }
        result[y * width + ((x + half) % width)] = colour;
      }
    }
    const canvas = new OffscreenCanvas(width, height);
    canvas.getContext("2d").putImageData(picture, 0, 0);
    return canvas;
  }

  /* Lines as places: for each its pen, angles (rad) and distances (mm). */
  async function linesOf(parts, pattern) {
    if (!pattern.lines.length) return [];
    const columns = window.turnlight_drawing.columnsOf(await parts.get(pattern.points), Int32Array, 2);
    const [angles, distances] = await columns;
    let first = 0;
    return pattern.lines.map(([pen, count]) => {
      const range = [first, (first += count)];
      return {
        pen,
        angles: Float32Array.from(angles.subarray(...range), (steps) => steps * pattern.angleStep),
        distances: Float32Array.from(distances.subarray(...range), (steps) => steps * pattern.lengthStep),
      };
    });
  }

  /* Everything that is drawn of a design in one state. */
  async function sheetOf(parts, stage, design, state) {
    const wrap = design[state].wraps[0];
    const { pattern } = design;
    return {
      colours: await coloursOf(parts, stage.maps[wrap.maps], wrap.looks),
      from: wrap.tube.start,
      to: wrap.tube.end,
      lines: await linesOf(parts, pattern),
      pens: pattern.pens,
      marks: pattern.marks,
      span: pattern.span,
      radii: pattern.radii,
      problem: pattern.problem,
    };
  }

  /* Radius of the blank at a distance from the butt, mm. */
  function radiusAt({ radii }, z) {
    const last = radii.length / 2 - 1;
    const step = (radii[2 * last] - radii[0]) / last;
    const at = Math.min(last - 1e-9, Math.max(0, (z - radii[0]) / step));
    const low = Math.floor(at);
    return radii[2 * low + 1] + (at - low) * (radii[2 * low + 3] - radii[2 * low + 1]);
  }

  /* Size of a picture in which the sheet fills one of another size, enlarged by a factor, and whether
     it stands there: it lies along the picture where there is more room so, else the butt is below. */
  function sizing(sheet, width, height, margin, enlarged) {
    const around = 2 * Math.PI * Math.max(radiusAt(sheet, sheet.from), radiusAt(sheet, sheet.to));
    const along = sheet.to - sheet.from;
    const [beside, above] = [margin.left + margin.right, margin.top + margin.bottom];
    const fitted = (spanX, spanY) => Math.min((width - beside) / spanX, (height - above) / spanY);
    const upright = fitted(around, along) > fitted(along, around);
    const [spanX, spanY] = upright ? [around, along] : [along, around];
    const scale = fitted(spanX, spanY) * enlarged; // pixels to a mm
    const size = [Math.max(width, spanX * scale + beside), Math.max(height, spanY * scale + above)];
    return { size: size.map(Math.floor), scale, upright, spanX, spanY };
  }

  /* Where the sheet lies in its picture. A blank's taper bends the true sheet by some tenths of a
     millimetre at its long edges (geometry.unroll.Cone.flat), which is left out. */
  function placing(sheet, { size, scale, upright, spanX, spanY }, margin) {
    const [wide, high] = [size[0] - margin.left - margin.right, size[1] - margin.top - margin.bottom];
    const around = upright ? spanX : spanY;
    const left = margin.left + (wide - spanX * scale) / 2;
    const top = margin.top + (high - spanY * scale) / 2;
    const middle = (around * scale) / 2;
    const at = (u, z) => upright
      ? [left + middle + u * scale, top + (sheet.to - z) * scale]
      : [left + (z - sheet.from) * scale, top + middle + u * scale];
    return {
      scale,
      upright,
      at,
      /* Pixels of a place. */
      of: (angle, z) => at(angle * radiusAt(sheet, z), z),
      /* Angle and distance of pixels. */
      back: (x, y) => {
        const z = upright ? sheet.to - (y - top) / scale : sheet.from + (x - left) / scale;
        const u = ((upright ? x - left : y - top) - middle) / scale;
        return [u / radiusAt(sheet, z), z];
      },
      matrix: upright
        ? [scale, 0, 0, -scale, left + middle, top + sheet.to * scale]
        : [0, scale, scale, 0, left - sheet.from * scale, top + middle],
    };
  }

  function drawColours(context, sheet, place) {
    const { colours, from, to } = sheet;
    const each = (to - from) / (colours.height - 1);
    context.save();
    context.transform(...place.matrix);
    context.imageSmoothingQuality = "high";
    for (let slice = 0; slice < SLICES; slice += 1) {
      const low = Math.floor((slice * colours.height) / SLICES);
      const high = Math.min(colours.height, Math.floor(((slice + 1) * colours.height) / SLICES) + 1);
      const z = from + (low - 0.5) * each;
      const around = 2 * Math.PI * radiusAt(sheet, z);
      context.drawImage(colours, 0, low, colours.width, high - low, -around / 2, z, around, (high - low) * each);
    }
    context.restore();
  }

  function trace(context, place, angles, distances) {
    context.beginPath();
    for (let i = 0; i < angles.length; i += 1) {
      const [x, y] = place.of(angles[i], distances[i]);
      if (i) context.lineTo(x, y);
      else context.moveTo(x, y);
    }
  }

  /* A light line on a dark one is seen on every colour. */
  function stroke(context, dash, weight = 1) {
    context.setLineDash([]);
    context.lineWidth = 2.4 * weight;
    context.strokeStyle = `rgb(0 0 0 / ${0.4 * weight})`;
    context.stroke();
    context.setLineDash(dash);
    context.lineWidth = weight;
    context.strokeStyle = `rgb(255 255 255 / ${0.5 + 0.4 * weight})`;
    context.stroke();
    context.setLineDash([]);
  }

  function drawLines(context, sheet, place) {
    const weight = Math.min(0.9, Math.max(0.3, 0.1 * place.scale));
    for (const { pen, angles, distances } of sheet.lines) {
      trace(context, place, angles, distances);
      stroke(context, sheet.pens[pen].dash.map((length) => length * place.scale), weight);
    }
    trace(context, place, [0, 0], [sheet.from, sheet.to]);
    stroke(context, [12, 3, 3, 3]);
  }

  /* Names beside their marks where there is room: right, left, above or below. */
  function drawMarks(context, sheet, place) {
    const spots = sheet.marks.map(([angle, z, name]) => [...place.of(angle, z), name]);
    const taken = spots.map(([x, y]) => [x - 3, y - 3, x + 3, y + 3]);
    const free = (box) => !taken.some(
      (other) => box[0] < other[2] && other[0] < box[2] && box[1] < other[3] && other[1] < box[3]);
    context.font = "600 11px system-ui, sans-serif";
    context.textBaseline = "middle";
    context.textAlign = "left";
    for (const [x, y, name] of spots) {
      context.fillStyle = "#fff";
      context.strokeStyle = "#000";
      context.beginPath();
      context.arc(x, y, 2.4, 0, 2 * Math.PI);
      context.fill();
      context.stroke();
      const wide = context.measureText(name).width + 6;
      const corners = [[x + 5, y - 7], [x - 5 - wide, y - 7], [x - wide / 2, y - 19], [x - wide / 2, y + 5]];
      const box = corners.map(([left, top]) => [left, top, left + wide, top + 14]).find(free);
      if (!box) continue;
      taken.push(box);
      context.fillStyle = "rgb(23 25 28 / 0.82)";
      context.fillRect(box[0], box[1], wide, 14);
      context.fillStyle = "#eceae6";
      context.fillText(name, box[0] + 3, box[1] + 7.5);
    }
  }

  const stepOf = (measure, scale) =>
    measure.steps.find((step) => step * measure.unit * scale >= LABEL_ROOM) || measure.steps.at(-1);

  const axes = (sheet, place, measure) => {
    const found = [], { unit } = measure;
    const step = stepOf(measure, place.scale);
    const each = step * unit;
    for (let n = Math.ceil(sheet.from / each); n * each <= sheet.to; n += 1) {
      const half = Math.PI * radiusAt(sheet, n * each);
      found.push({ along: true, at: place.at(place.upright ? -half : half, n * each), name: `${+(n * step).toFixed(3)}` });
    }
    const half = Math.PI * radiusAt(sheet, sheet.from);
    for (let n = -Math.floor(half / each); n * each <= half; n += 1) {
      found.push({ along: false, at: place.at(n * each, sheet.from), name: `${+(n * step).toFixed(3)}` });
    }
    return found;
  };

  /* Ticks from the butt along the seam, and from the guide line along the end at the butt. */
  function drawAxes(context, sheet, place, measure, ink) {
    context.font = "11px system-ui, sans-serif";
    context.fillStyle = context.strokeStyle = ink;
    context.lineWidth = 1;
    for (const { along, at: [x, y], name } of axes(sheet, place, measure)) {
      const below = along !== place.upright;
      context.beginPath();
      context.moveTo(x, y);
      context.lineTo(...(below ? [x, y + 5] : [x - 5, y]));
      context.stroke();
      context.textAlign = below ? "center" : "right";
      context.textBaseline = below ? "top" : "middle";
      context.fillText(name, ...(below ? [x, y + 7] : [x - 7, y]));
    }
  }

  /* The side that is turned away, shaded, and a line along the one that is looked at. */
  function drawTurn(context, sheet, place, facing, accent) {
    const turned = (angle) => Math.atan2(Math.sin(angle), Math.cos(angle));
    const away = turned(facing + Math.PI);
    context.fillStyle = "rgb(0 0 0 / 0.32)";
    for (const middle of [away - 2 * Math.PI, away, away + 2 * Math.PI]) {
      const low = Math.max(-Math.PI, middle - Math.PI / 2), high = Math.min(Math.PI, middle + Math.PI / 2);
      if (low >= high) continue;
      context.beginPath();
      [[low, sheet.from], [high, sheet.from], [high, sheet.to], [low, sheet.to]].forEach(
        ([angle, z], i) => context[i ? "lineTo" : "moveTo"](...place.of(angle, z)));
      context.fill();
    }
    const ends = [[turned(facing), sheet.from], [turned(facing), sheet.to]].map((one) => place.of(...one));
    context.beginPath();
    ends.forEach((end, i) => context[i ? "lineTo" : "moveTo"](...end));
    context.lineWidth = 4;
    context.strokeStyle = "rgb(0 0 0 / 0.6)";
    context.stroke();
    context.lineWidth = 2;
    context.strokeStyle = accent;
    context.stroke();
    context.fillStyle = accent;
    ends.forEach(([x, y]) => {
      context.beginPath();
      context.arc(x, y, 5, 0, 2 * Math.PI);
      context.fill();
    });
  }

  window.turnlight_sheet = {
    MM, INCHES, sheetOf, sizing, placing, radiusAt, drawColours, drawLines, drawMarks, drawAxes, drawTurn,
  };
})();
