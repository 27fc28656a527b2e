// One blurred map of a light from its codes: scenes.packing.light, texel by texel. A coarse map is
// interpolated to the side that the shading looks up.

uniform sampler2D high;    // upper eight bits of each code
uniform sampler2D low;     // the others, uppermost in their byte
uniform float codes;       // the last code
uniform float lowCodes;    // the last code of the lower bits
uniform vec2 stops;        // binary logarithm of the radiance of the first and the last code
uniform float side;        // texels of a side that is looked up
uniform float rowFrom;     // of the target, where the map begins
layout(location = 0) out vec4 radiance;

const float BYTE = 255.0;

// Beyond an edge an octahedral map goes on upside down, mirrored at the edge's middle.
ivec2 onMap(ivec2 texel, int size)
{
  ivec2 place = texel;
  if (place.x < 0 || place.x >= size) {
    place = ivec2(place.x < 0 ? -1 - place.x : 2 * size - 1 - place.x, size - 1 - place.y);
  }
  if (place.y < 0 || place.y >= size) {
    place = ivec2(size - 1 - place.x, place.y < 0 ? -1 - place.y : 2 * size - 1 - place.y);
  }
  return place;
}

// Radiance of a texel of the packed map.
vec3 at(ivec2 texel)
{
  ivec2 place = onMap(texel, textureSize(high, 0).x);
  vec3 upper = texelFetch(high, place, 0).rgb;
  vec3 lower = texelFetch(low, place, 0).rgb;
  vec3 code = floor(BYTE * upper + 0.5) * (lowCodes + 1.0) + floor(BYTE * lower + 0.5);
  return exp2(stops.x + (stops.y - stops.x) * code / codes);
}

// Linear between texel centres; the target has a border of one texel.
void main()
{
  vec2 inner = gl_FragCoord.xy - vec2(0.0, rowFrom) - 1.0;
  vec2 place = inner / side * float(textureSize(high, 0).x) - 0.5;
  ivec2 corner = ivec2(floor(place));
  vec2 share = place - vec2(corner);
  vec3 under = mix(at(corner), at(corner + ivec2(1, 0)), share.x);
  vec3 over = mix(at(corner + ivec2(0, 1)), at(corner + ivec2(1, 1)), share.x);
  radiance = vec4(mix(under, over, share.y), 1.0);
}
