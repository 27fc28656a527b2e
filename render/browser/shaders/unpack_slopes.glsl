// Slopes from their codes: scenes.packing.companding.expanded, texel by texel.

uniform sampler2D packed;    // codes of two slopes, and a share
uniform float knee;          // of the companding
uniform float mostSlope;
uniform float thickest;      // what a share of 1 stands for
uniform int squared;         // 1: the third channel is the square of both slopes together
layout(location = 0) out vec4 slopes;

const float BYTE = 255.0;

// The code of no slope, and how many there are to either side of it.
const float ZERO = 128.0;
const float CODES = 127.0;

// The slopes of one texel, and the square or the share.
vec3 slopesAt(ivec2 texel)
{
  vec3 codes = BYTE * texelFetch(packed, texel, 0).rgb;
  vec2 v = (codes.xy - ZERO) / CODES;
  vec2 both = v * knee / max(1.0 - abs(v), knee / (knee + mostSlope));
  return vec3(both, squared == 1 ? dot(both, both) : codes.z / BYTE * thickest);
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
