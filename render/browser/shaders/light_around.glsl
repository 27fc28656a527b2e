// The moved light with the card before it, as few directions: to be blurred widely.

uniform sampler2D source;  // of light_source.glsl, twice as wide and high
layout(location = 0) out vec4 radiance;
layout(location = 1) out vec4 toward;  // direction of the texel, and its solid angle

const float HALF_TURN = 3.14159265359;

// Direction of a place on a map about the rod.
// place: texels from the corner. rows: of the map.
vec3 directionOn(vec2 place, float rows)
{
  vec2 angle = HALF_TURN * place / rows;
  return vec3(cos(angle.y), sin(angle.y) * cos(angle.x), sin(angle.y) * sin(angle.x));
}

// The mean of four texels of the source.
void main()
{
  ivec2 corner = 2 * ivec2(gl_FragCoord.xy);
  radiance = vec4(0.0, 0.0, 0.0, 1.0);
  for (int i = 0; i < 2 + 2; ++i) {
    ivec2 texel = corner + ivec2(i & 1, i >> 1);
    vec4 card = cardRadiance(directionOn(vec2(texel) + 0.5, 2.0 * targetSize.y));
    vec3 bare = texelFetch(source, texel, 0).rgb;
    radiance.rgb += 0.5 * 0.5 * (bare * (1.0 - card.a) + card.rgb);
  }
  float ring = HALF_TURN / targetSize.y;
  float row = gl_FragCoord.y - 0.5;
  toward = vec4(
    directionOn(gl_FragCoord.xy, targetSize.y),
    (cos(ring * row) - cos(ring * (row + 1.0))) * ring);
}
