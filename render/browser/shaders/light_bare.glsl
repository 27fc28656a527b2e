// The bare light: without the card. Declared before this text: octahedral.glsl.

uniform sampler2D bareMap;  // octahedral, with a border of one texel
uniform mat3 lightBack;     // from directions of the stage to those of the light where it stood

// Its radiance.
// direction: of the stage.
vec3 bareRadiance(vec3 direction)
{
  vec2 texel = (0.5 * octahedral(lightBack * direction) + 0.5) * LIGHT_SIDE + 1.0;
  return textureLod(bareMap, texel / (LIGHT_SIDE + 2.0), 0.0).rgb;
}
