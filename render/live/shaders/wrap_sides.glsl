// A wrap close up: which thread lies at a place. The nearest texel alone would draw the side of a
// round thread as stairs; the thread coordinates of one texel locate its sides exactly.
// Declared before this text: what wrap_rows.glsl names, ON_TUBE and POINTER_REACH
// (scenes/stage/borders.py).

// Distance beyond a side, texels, where the texel of the other thread is looked for: beyond half of
// the diagonal of a texel, so that the nearest one is not on the near side.
const float CLEARLY_BEYOND = 0.75;

// Distance from a side, texels, where the maps of what lies beside a thread are read: nothing of the
// thread is blended in.
const float UNBLENDED = 1.0;

// The last place across a row; the next row begins at 1.
const float LAST_PLACE = 0.999;

// A straight side of a thread, from a place of the maps. Lengths are in texels.
struct Side {
  float beyond;   // distance of the place beyond it; negative on the thread
  vec2 outward;   // unit length
  float halfWidth;  // of the thread
};

// A thread, and where its maps are read.
struct Spot {
  RowTexel row;
  vec2 place;
};

// What a sample shows.
struct Seen {
  Spot most;
  Spot other;   // beyond the side that runs through the sample, if any
  float share;  // of the other, 0 to a half
};

// Whether a texel lies on a round thread.
bool isTube(RowTexel row)
{
  return row.code >= ON_TUBE;
}

// A side of the thread of a texel, from the place for which the texel was read.
// last: whether it is the side where the row ends.
Side sideOf(RowTexel row, bool last)
{
  float slope = max(length(row.perTexel), 1.0 / ROW_STEPS);
  vec2 outward = (last ? row.perTexel : -row.perTexel) / slope;
  return Side((last ? row.phase - 1.0 : -row.phase) / slope, outward, 0.5 / slope);
}

// The side that is nearest to a place: of the thread of the nearest texel, or of the one that the
// texel points to.
// position: of the place, texels.
Side nearestSide(RowTexel here, vec2 position)
{
  if (isTube(here)) return sideOf(here, here.phase > 0.5);
  int across = 2 * POINTER_REACH + 1;
  int pointer = (here.code - 1) >> 1;
  vec2 way = vec2(pointer % across - POINTER_REACH, pointer / across - POINTER_REACH);
  return sideOf(rowTexelAt(here.texel + way, position), ((here.code - 1) & 1) == 1);
}

// Where the maps of a thread are read, texels: on the crest of a round thread, and clear of the thread
// beside it. So nothing is blended over the side.
// away: unit length, from the side. off: distance of the place from the side, on this side of it.
vec2 lookup(RowTexel row, vec2 position, vec2 away, float off)
{
  if (!isTube(row)) return position + max(UNBLENDED - off, 0.0) * away;
  float steep = max(dot(row.perTexel, row.perTexel), 1.0 / (ROW_STEPS * ROW_STEPS));
  return position + (0.5 - row.phase) / steep * row.perTexel;
}

// The threads that a sample at a place of the maps shows.
Seen seenAt(vec2 place, Footprint footprint)
{
  vec2 size = vec2(textureSize(rowsMap, 0));
  vec2 position = place * size;
  RowTexel here = rowTexelAt(floor(position), position);
  Spot nearest = Spot(here, place);
  if (footprint.close == 0.0 || here.code == 0) return Seen(nearest, nearest, 0.0);
  Side side = nearestSide(here, position);
  // Away from the side of the thread, on the nearest texel's side of it.
  vec2 away = isTube(here) ? -side.outward : side.outward;
  float off = isTube(here) ? -side.beyond : side.beyond;
  nearest.place = mix(place, lookup(here, position, away, off) / size, footprint.close);
  float width = abs(dot(footprint.stepX, away)) + abs(dot(footprint.stepY, away));
  if (off > 0.5 * width) return Seen(nearest, nearest, 0.0);
  float beyond = min(CLEARLY_BEYOND, side.halfWidth);
  RowTexel there = rowTexelAt(floor(position - (off + beyond) * away), position);
  Spot across = Spot(there, mix(place, lookup(there, position, -away, -off) / size, footprint.close));
  float share = clamp(0.5 - abs(off) / width, 0.0, 0.5);
  if (off > 0.0) return Seen(nearest, across, share);
  return Seen(across, nearest, share);
}

// The rows that a sample shows. A place beside the round of its thread, which is off by what the maps
// round, is at its side.
Rows rowsSeen(Seen seen, Footprint footprint)
{
  RowTexel row = seen.most.row;
  if (isTube(row) && footprint.close > 0.0) row.phase = clamp(row.phase, 0.0, LAST_PLACE);
  return rowsOf(row, footprint);
}

// The thread that a sample shows, with the colours of both at a side.
Thread threadSeen(Seen seen, Frame frame, Footprint footprint)
{
  Thread thread = threadAt(seen.most.place, frame, footprint);
  if (seen.share == 0.0) return thread;
  Thread other = threadAt(seen.other.place, frame, footprint);
  thread.pale = mix(thread.pale, other.pale, seen.share);
  thread.mirror = mix(thread.mirror, other.mirror, seen.share);
  thread.body = mix(thread.body, other.body, seen.share);
  return thread;
}
