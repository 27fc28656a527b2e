// The wide maps of a light, and the far part of the narrow ones, as sums over few directions.

uniform sampler2D around;  // of light_around.glsl: radiance,
uniform sampler2D toward;  // direction and solid angle
uniform float wideSide;    // texels of a side of each map, without its border of one
uniform float finishIndex;
layout(location = 0) out vec4 radiance;  // of a narrow map: times the sum of shares, which is last

// Share of a direction in a lobe.
// between: cosine to the lobe's middle, above 0. level: number of the map.
float share(float between, float level)
{
  if (level <= LAST_NARROW) return mirrorLobe(between, level) * (1.0 - nearShare(between));
  if (level < LIGHT_LEVELS) return mirrorLobe(between, level);
  float index = level < LIGHT_IN_FINISH ? 1.0 : finishIndex;
  return between * (1.0 - fresnelDielectric(between, index));
}

// One map above the other, from number 1 on.
void main()
{
  float map = floor(gl_FragCoord.y / (wideSide + 2.0));
  vec2 texel = gl_FragCoord.xy - vec2(0.0, map * (wideSide + 2.0)) - 1.0;
  vec3 direction = directionAt(2.0 * texel / wideSide - 1.0);
  ivec2 size = textureSize(around, 0);
  vec4 sum = vec4(0.0);
  for (int row = 0; row < size.y; ++row) {
    for (int column = 0; column < size.x; ++column) {
      vec4 from = texelFetch(toward, ivec2(column, row), 0);
      float between = dot(from.xyz, direction);
      if (between <= 0.0) continue;
      vec3 light = texelFetch(around, ivec2(column, row), 0).rgb;
      sum += from.w * share(between, map + 1.0) * vec4(light, 1.0);
    }
  }
  radiance = map + 1.0 > LAST_NARROW ? vec4(sum.rgb / sum.a, 1.0) : sum;
}
