// The light as a coarse map about the rod: rows from the direction along it to that against it, columns
// round it.

layout(location = 0) out vec4 radiance;

const float HALF_TURN = 3.14159265359;
const int PARTS = 4;  // of a texel's side

// Directions share their light between the nearest texels, as scenes.stage.backdrop shares it: the
// mean of what is round the texel, its weight falling to nothing at the centres of its neighbours.
void main()
{
  radiance = vec4(0.0, 0.0, 0.0, 1.0);
  for (int i = 0; i < 2 * PARTS; ++i) {
    for (int j = 0; j < 2 * PARTS; ++j) {
      vec2 away = (vec2(j, i) + 0.5) / float(PARTS) - 1.0;
      vec2 weight = (1.0 - abs(away)) / float(PARTS);
      vec2 angle = HALF_TURN * (gl_FragCoord.xy + away) / targetSize.y;
      vec3 direction = vec3(cos(angle.y), sin(angle.y) * cos(angle.x), sin(angle.y) * sin(angle.x));
      radiance.rgb += weight.x * weight.y * bareRadiance(direction);
    }
  }
}
