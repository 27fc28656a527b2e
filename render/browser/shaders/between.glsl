// Where a texel of a target lies between four texels of a packed map, as render/live/textures.py
// resamples maps: theta wraps round, stations end.
// Declared before this text: targetSize (texels of the target).

// Four texels and how much of each is seen.
struct Between {
  ivec2 corner;  // the first; the others are one further each way
  vec2 share;    // of the further ones
  ivec2 size;    // of the packed map
};

// The place of this fragment. size: of the packed map.
Between placeBetween(ivec2 size)
{
  vec2 place = gl_FragCoord.xy * vec2(size) / targetSize - 0.5;
  place.y = clamp(place.y, 0.0, float(size.y - 1));
  vec2 corner = floor(place);
  corner.y = min(corner.y, float(size.y - 2));
  return Between(ivec2(corner), place - corner, size);
}

// One of the four. way: 0 or 1 each way.
ivec2 texelOf(Between four, ivec2 way)
{
  ivec2 texel = four.corner + way;
  int turns = int(floor(float(texel.x) / float(four.size.x)));
  return ivec2(texel.x - turns * four.size.x, texel.y);
}

// How much of it is seen.
float shareOf(Between four, ivec2 way)
{
  vec2 share = mix(1.0 - four.share, four.share, vec2(way));
  return share.x * share.y;
}
