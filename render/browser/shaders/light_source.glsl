// The light as a coarse map about the rod: rows from the direction along it to that against it, columns
// round it. Each texel is the mean of what it covers.

layout(location = 0) out vec4 radiance;

const float HALF_TURN = 3.14159265359;
const int PARTS = 4;

// The mean of PARTS x PARTS directions of the texel.
void main()
{
  radiance = vec4(0.0, 0.0, 0.0, 1.0);
  vec2 corner = gl_FragCoord.xy - 0.5;
  for (int i = 0; i < PARTS * PARTS; ++i) {
    vec2 part = (vec2(i % PARTS, i / PARTS) + 0.5) / float(PARTS);
    vec2 angle = HALF_TURN * (corner + part) / targetSize.y;
    vec3 direction = vec3(cos(angle.y), sin(angle.y) * cos(angle.x), sin(angle.y) * sin(angle.x));
    radiance.rgb += bareRadiance(direction) / float(PARTS * PARTS);
  }
}
