// The lobes of scenes.light.prefilter. Those of narrow maps are summed in two parts: near the middle
// from the sharp map, far from it from few directions, where the lobe is flat.

// The last narrow map.
const float LAST_NARROW = 2.0;

// Cosines of 8 and 20 degrees: the near part reaches from the middle to between them.
const float NEAR_INNER = 0.990268;
const float NEAR_OUTER = 0.939693;
const float NEAR_ANGLE = 0.349066;  // 20 degrees

const float SPHERE = 12.5663706144;

// Share of a direction in the lobe of a rough mirror seen straight on; over all directions about 1.
// between: cosine to the lobe's middle, above 0. level: number of the map.
float mirrorLobe(float between, float level)
{
  float roughness = level / (LIGHT_LEVELS - 1.0);
  float alphaSquared = roughness * roughness * roughness * roughness;
  float width = 1.0 + 0.5 * (alphaSquared - 1.0) * (1.0 + between);
  return alphaSquared / SPHERE * between / (width * width);
}

// Which part of a direction's light is summed near the middle.
float nearShare(float between)
{
  return smoothstep(NEAR_OUTER, NEAR_INNER, between);
}
