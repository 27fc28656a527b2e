// The narrow maps of a light: their near part from rings about the lobe's middle, and the far part.

uniform sampler2D sharp;    // of light_sharp.glsl, without a border, and its halvings
uniform sampler2D wide;     // of light_wide.glsl
uniform float wideSide;     // texels of a side of its maps, without a border of one
uniform float narrowSide;   // the same of these maps
layout(location = 0) out vec4 radiance;

const int RINGS = 10;
const int PARTS = 16;  // of each ring
const float TURN = 6.28318530718;

// Each ring is turned against the one within (Vogel 1979, "A better way to construct the sunflower
// head": the golden angle).
const float GOLDEN_ANGLE = 2.39996322973;

// Where an axis is nearer than this to the lobe's middle, another one spans the lobe.
const float STEEP = 0.9;

// The near part: radiance times the sum of shares, and that sum.
// middle: of the lobe, unit. level: number of the map.
vec4 nearPart(vec3 middle, float level)
{
  vec3 beside = abs(middle.y) < STEEP ? vec3(0.0, 1.0, 0.0) : vec3(1.0, 0.0, 0.0);
  vec3 across = normalize(cross(beside, middle));
  vec3 upward = cross(middle, across);
  vec4 sum = vec4(0.0);
  for (int i = 0; i < RINGS; ++i) {
    // Rings are narrow where the lobe is steep.
    float inner = NEAR_ANGLE * float(i * i) / float(RINGS * RINGS);
    float outer = NEAR_ANGLE * float((i + 1) * (i + 1)) / float(RINGS * RINGS);
    float lean = 0.5 * (inner + outer);
    float solidAngle = TURN * (cos(inner) - cos(outer)) / float(PARTS);
    // Each part is read from a halving whose texels are as large.
    float halving = max(0.5 * log2(solidAngle * LIGHT_SIDE * LIGHT_SIDE / SPHERE), 0.0);
    float share = solidAngle * mirrorLobe(cos(lean), level) * nearShare(cos(lean));
    for (int k = 0; k < PARTS; ++k) {
      float turn = TURN * float(k) / float(PARTS) + GOLDEN_ANGLE * float(i);
      vec3 aside = cos(turn) * across + sin(turn) * upward;
      vec2 place = 0.5 * octahedral(cos(lean) * middle + sin(lean) * aside) + 0.5;
      sum += share * vec4(textureLod(sharp, place, halving).rgb, 1.0);
    }
  }
  return sum;
}

// One map above the other, from number 1 on.
void main()
{
  float map = floor(gl_FragCoord.y / (narrowSide + 2.0));
  vec2 place = (gl_FragCoord.xy - vec2(0.0, map * (narrowSide + 2.0)) - 1.0) / narrowSide;
  vec2 texel = place * wideSide + 1.0 + vec2(0.0, map * (wideSide + 2.0));
  vec4 sum = nearPart(directionAt(2.0 * place - 1.0), map + 1.0);
  sum += textureLod(wide, texel / vec2(textureSize(wide, 0)), 0.0);
  radiance = vec4(sum.rgb / sum.a, 1.0);
}
