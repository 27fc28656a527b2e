// A wrap: the part of the pattern of rows that a pixel sees, and the normals evaluated on it (taps).
//
// A whole row or more under the pixel is the full distribution of normals, so nothing jumps or
// shimmers as rows shrink; close up the part shrinks to a point and the row itself is drawn.
// Declared before this text: what wrap_thread.glsl names, taps (normals evaluated across a row),
// ROW_STEPS (scenes/stage/maps.py).

// The map of rows holds bytes, which are read as 0 to 1: the place across a row in 256ths, and the
// rows from one texel to the next in 1 / ROW_STEPS, with 128 for none.
const float BYTE = 255.0;
const float PLACES = 256.0;
const float NO_STEP = 128.0;

// A pixel is taken to see a little more than its own width, or rows would flicker
// (render.measure.steadiness measures it), and never less than a fiftieth of a row.
const float PIXEL_OVERLAP = 1.3;
const float LEAST_SEEN = 0.02;

// The four samples of a 2 x 2 block put their taps a quarter of a spacing from one another, evenly
// to both sides: the first lies three eighths before the middle.
const float QUARTER = 0.25;
const float FIRST_OF_FOUR = 0.375;

// The least cosine between normal and eye when flanks are compared: at an outline it goes to 0.
const float LEAST_TOWARDS = 0.05;

// A round thread of rounding R shows the place y in proportion to sqrt(1 - R² y²), or 1 - R² y² / 2.
// Integrated and inverted to the first order, that pulls places to the crest by R² / 6 of 1 - y².
const float CREST_SHARE = 6.0;

// With a tilt of 1, the place across a row up to which nothing is seen would be 0 / 0.
const float LEAST_DIVISOR = 1e-6;

// A texel of the map of rows, from a place near it.
struct RowTexel {
  vec2 texel;     // its lower corner, texels
  float phase;    // place across its row, rows; its thread runs from 0 to 1
  vec2 perTexel;  // change of the phase, rows
  int code;       // scenes.stage.borders.border_codes
};

// What a pixel sees of the rows, in rows.
struct Rows {
  float phase;  // place of its middle; the fraction is the place across its row
  float seen;   // width, at most one row
};

// Places across a row where normals are evaluated, in rows.
struct Taps {
  float spacing;
  float first;   // number of the first one
  float offset;  // of all of them, in spacings
};

// Visibility of a row from the eye.
struct RowView {
  float tilt;     // how much more of one flank is seen than of the other, -1 to 1
  float visible;  // share of the row that is not hidden behind its own crest
  float crest;    // how far places are pulled to the crest
};

// The texel of the map of rows for a place; theta wraps round, stations end.
// texel: number, before it is brought into the map. size: of the map.
ivec2 rowTexel(vec2 texel, ivec2 size)
{
  int turns = int(floor(texel.x / float(size.x)));
  return ivec2(int(texel.x) - size.x * turns, clamp(int(texel.y), 0, size.y - 1));
}

// A texel of the map of rows, read for a place near it. A row is two or three texels wide, too few to
// interpolate between: one texel gives the place across its row and how rows run on from it.
// texel: its lower corner, which may lie outside the map. position: of the place, texels.
RowTexel rowTexelAt(vec2 texel, vec2 position)
{
  vec4 data = texelFetch(rowsMap, rowTexel(texel, textureSize(rowsMap, 0)), 0) * BYTE;
  vec2 perTexel = (data.zy - NO_STEP) / ROW_STEPS;
  float phase = (data.x + 0.5) / PLACES + dot(position - texel - 0.5, perTexel);
  return RowTexel(texel, phase, perTexel, int(data.w + 0.5));
}

// The rows that a sample sees.
Rows rowsOf(RowTexel row, Footprint footprint)
{
  float seen = abs(dot(footprint.stepX, row.perTexel)) + abs(dot(footprint.stepY, row.perTexel));
  return Rows(row.phase, clamp(PIXEL_OVERLAP * samplesAcross * seen, LEAST_SEEN, 1.0));
}

// Offset of a sample's taps, in spacings: the samples of a 2 x 2 block put theirs between one
// another's (Keller & Heidrich 2001, "Interleaved sampling"), or a small lamp would be missed, or
// met too often.
// pixel: place of the sample in the window.
float interleavedOffset(vec2 pixel)
{
  ivec2 odd = ivec2(pixel) & 1;
  return QUARTER * float(2 * (odd.x ^ odd.y) + odd.y) - FIRST_OF_FOUR;
}

// The taps for the visible part of the rows. They have fixed places on the row, each for the normals
// half-way to its neighbours; what changes with the pixel is how much of each it sees. The smaller
// the visible part, the denser the taps, by powers of two.
Taps tapsFor(Rows rows, vec2 pixel)
{
  float span = exp2(min(ceil(log2(rows.seen * (1.0 + 1.0 / float(taps)))), 0.0));
  float spacing = span / float(taps);
  float offset = interleavedOffset(pixel);
  float first = floor((rows.phase - 0.5 * span) / spacing + 0.5 - offset);
  return Taps(spacing, first, offset);
}

// How much of a tap's normals a pixel sees: the overlap of its width with theirs. Where a whole row is
// seen, the last taps are seen at either end.
// distance: from the middle of the pixel, rows.
float tapShare(float distance, float seen, float spacing)
{
  float most = min(spacing, seen);
  float reach = 0.5 * (spacing + seen);
  return clamp(reach - distance, 0.0, most) + clamp(reach + distance - 1.0, 0.0, most);
}

// Visibility of a row. Seen from the side, more is seen of the flank that faces the eye, in proportion
// to 1 + tilt y from edge to edge, y = -1 to 1, and what faces away is hidden.
// toEye: below the outside.
RowView rowView(Thread thread, vec3 toEye)
{
  float towards = max(dot(thread.normal, toEye), LEAST_TOWARDS);
  float aside = thread.rounding * dot(thread.across, toEye) / towards;
  return RowView(
    clamp(aside, -1.0, 1.0),
    0.5 + 0.5 / max(abs(aside), 1.0),
    thread.rounding * thread.rounding / CREST_SHARE);
}

// The place across a row up to which the eye sees a given share of it: the inverse of
// (1 + y) / 2 + tilt (y² - 1) / 4, by the quadratic formula without cancellation; then what is
// hidden is left out, and places are pulled to the crest of a round thread.
// share: 0 to 1. Returns y, -1 to 1.
float placeAcross(float share, RowView view)
{
  float tilt = view.tilt;
  float root = sqrt((1.0 - tilt) * (1.0 - tilt) + 2.0 * 2.0 * tilt * share);
  float y = 2.0 * 2.0 * share / max(1.0 - tilt + root, LEAST_DIVISOR) - 1.0;
  y = tilt < 0.0 ? (1.0 + y) * view.visible - 1.0 : 1.0 - (1.0 - y) * view.visible;
  return y * (1.0 - view.crest * (1.0 - y * y));
}
