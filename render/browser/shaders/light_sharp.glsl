// A light as it is, with the card before it.

uniform float border;  // texels round the map
layout(location = 0) out vec4 radiance;

// Texel by texel.
void main()
{
  vec2 texel = gl_FragCoord.xy - border;
  vec3 direction = directionAt(2.0 * texel / LIGHT_SIDE - 1.0);
  vec4 card = cardRadiance(direction);
  radiance = vec4(mix(bareRadiance(direction), card.rgb, card.a), 1.0);
}
