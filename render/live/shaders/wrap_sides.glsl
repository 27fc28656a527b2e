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

// A straight side of a visible part of the wrap, from a place of the maps. Lengths are in texels.
struct Side {
  float off;        // distance of the place from it; negative beyond it
  vec2 away;        // unit length, from the side into the part
  float halfWidth;  // of the round thread that it belongs to
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

// Whether a texel points to a round thread: one beside what is not round, or one that lies over its
// own thread.
bool isBeside(RowTexel row)
{
  return row.code % ON_TUBE != 0;
}

// The nearer side of the thread of a texel, from the place for which the texel was read.
Side ownSide(RowTexel row)
{
  float slope = max(length(row.perTexel), 1.0 / ROW_STEPS);
  float sense = row.phase > 0.5 ? -1.0 : 1.0;
  return Side(min(row.phase, 1.0 - row.phase) / slope, sense * row.perTexel / slope, 0.5 / slope);
}

// The side of the thread to which a texel points, from a place beside that thread.
// position: of the place, texels.
Side sideBeside(RowTexel row, vec2 position)
{
  int across = 2 * POINTER_REACH + 1;
  int pointer = row.code % ON_TUBE - 1;
  vec2 way = vec2((pointer >> 1) % across - POINTER_REACH, (pointer >> 1) / across - POINTER_REACH);
  RowTexel there = rowTexelAt(row.texel + way, position);
  float slope = max(length(there.perTexel), 1.0 / ROW_STEPS);
  bool last = (pointer & 1) == 1;
  float off = (last ? there.phase - 1.0 : -there.phase) / slope;
  return Side(off, (last ? there.perTexel : -there.perTexel) / slope, 0.5 / slope);
}

// The side that ends what is visible of the thread of the nearest texel: its own, or that of a thread
// that lies over it. What is visible lies within all of them.
// position: of the place, texels.
Side nearestSide(RowTexel here, vec2 position)
{
  if (!isTube(here)) return sideBeside(here, position);
  Side side = ownSide(here);
  if (!isBeside(here)) return side;
  Side over = sideBeside(here, position);
  if (over.off < side.off) return over;
  return side;
}

// Where the maps of a thread are read, texels: on the crest of a round thread, or clear of the thread
// beside it or over it. So nothing is blended over the side.
// away: unit length, from the side. off: distance of the place from the side, on this side of it.
vec2 lookup(RowTexel row, vec2 position, vec2 away, float off)
{
  if (!isTube(row)) return position + max(UNBLENDED - off, 0.0) * away;
  float steep = max(dot(row.perTexel, row.perTexel), 1.0 / (ROW_STEPS * ROW_STEPS));
  vec2 crest = position + (0.5 - row.phase) / steep * row.perTexel;
  if (!isBeside(row)) return crest;
  // The crest may be covered. What is visible may be too narrow to be clear of both its sides.
  Side over = sideBeside(row, position);
  float clear = over.off + dot(crest - position, over.away);
  float visible = max(clear + 0.5 * inversesqrt(steep), 0.0);
  return crest + max(min(UNBLENDED, 0.5 * visible) - clear, 0.0) * over.away;
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
  vec2 away = side.away;
  float off = side.off;
  nearest.place = mix(place, lookup(here, position, away, off) / size, footprint.close);
  float width = abs(dot(footprint.stepX, away)) + abs(dot(footprint.stepY, away));
  if (off > 0.5 * width) return Seen(nearest, nearest, 0.0);
  float beyond = min(CLEARLY_BEYOND, side.halfWidth);
  RowTexel there = rowTexelAt(floor(position - (off + beyond) * away), position);
  Spot across = Spot(there, mix(place, lookup(there, position, -away, -off) / size, footprint.close));
  float share = clamp(0.5 - abs(off) / width, 0.0, 0.5);
  // Between the two may lie a sliver of a third thread, too narrow for a texel of its own. It is shown
  // as the lower of the two.
  bool isAcross = !isTube(there) || isBeside(there) || abs(there.phase - 0.5) < 0.5;
  if (off > 0.0 || !isAcross) return Seen(nearest, across, share);
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
