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
const int TEXELS = 4;  // to a side, that are interpolated between

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

// Binary logarithm of the radiance of a texel of the packed map.
vec3 stopsAt(ivec2 texel)
{
  ivec2 place = onMap(texel, textureSize(high, 0).x);
  vec3 upper = texelFetch(high, place, 0).rgb;
  vec3 lower = texelFetch(low, place, 0).rgb;
  vec3 code = floor(BYTE * upper + 0.5) * (lowCodes + 1.0) + floor(BYTE * lower + 0.5);
  return stops.x + (stops.y - stops.x) * code / codes;
}

// Weights of the four texels about a place: the cubic through the middle two whose slopes are half the
// differences of their neighbours (Catmull & Rom 1974, "A class of local interpolating splines").
// t: fraction of the place between the middle two, 0 to 1.
vec4 cubicWeights(float t)
{
  float u = 1.0 - t;
  float first = -0.5 * t * u * u;
  float last = -0.5 * u * t * t;
  float second = u * u * (1.0 + 2.0 * t) + 0.5 * u * t * t;
  return vec4(first, second, 1.0 - first - second - last, last);
}

// Cubic between texel centres, in stops, so that nothing falls below zero; the target has a border of
// one texel.
void main()
{
  vec2 inner = gl_FragCoord.xy - vec2(0.0, rowFrom) - 1.0;
  vec2 place = inner / side * float(textureSize(high, 0).x) - 0.5;
  ivec2 corner = ivec2(floor(place));
  vec2 share = place - vec2(corner);
  if (share == vec2(0.0)) {
    radiance = vec4(exp2(stopsAt(corner)), 1.0);
    return;
  }
  vec4 across = cubicWeights(share.x);
  vec4 along = cubicWeights(share.y);
  vec3 sum = vec3(0.0);
  for (int j = 0; j < TEXELS; ++j) {
    for (int i = 0; i < TEXELS; ++i) {
      sum += along[j] * across[i] * stopsAt(corner + ivec2(i - 1, j - 1));
    }
  }
  radiance = vec4(exp2(sum), 1.0);
}
