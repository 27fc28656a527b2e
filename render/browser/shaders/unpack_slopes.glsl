// Slopes from their codes: scenes.packing.companding.expanded, texel by texel.

uniform sampler2D packed;     // upper eight bits of the codes of two slopes, and both lowest bits
uniform sampler2D thickness;  // of the finish: a share of the thickest
uniform float knee;           // of the companding
uniform float mostSlope;
uniform float thickest;       // mm
uniform int squared;          // 1: the third channel is the square of both slopes together
layout(location = 0) out vec4 slopes;

const float BYTE = 255.0;

// The code of no slope, and how many there are to either side of it.
const float ZERO = 256.0;
const float CODES = 254.0;

// The slopes of one texel, and their square or the thickness, mm.
vec3 slopesAt(ivec2 texel)
{
  vec3 bytes = floor(BYTE * texelFetch(packed, texel, 0).rgb + 0.5);
  vec2 codes = 2.0 * bytes.xy + vec2(mod(bytes.z, 2.0), floor(0.5 * bytes.z));
  vec2 v = (codes - ZERO) / CODES;
  vec2 both = v * knee / max(1.0 - abs(v), knee / (knee + mostSlope));
  if (squared == 1) return vec3(both, dot(both, both));
  return vec3(both, texelFetch(thickness, texel, 0).r * thickest);
}

// The mean of the four texels about the fragment.
void main()
{
  Between four = placeBetween(textureSize(packed, 0));
  slopes = vec4(0.0);
  for (int i = 0; i < 2 + 2; ++i) {
    ivec2 way = ivec2(i & 1, i >> 1);
    slopes.xyz += shareOf(four, way) * slopesAt(texelOf(four, way));
  }
}
