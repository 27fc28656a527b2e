// The card in the moved light, shaded by the rod: scenes.stage.backdrop.backdrop, point by point.

uniform sampler2D source;      // of light_source.glsl
uniform sampler2D cardPoints;  // y and z of each point, mm, and of its normal
uniform vec3 albedo;
uniform float rodRadius;       // mm
layout(location = 0) out vec4 radiance;

const float HALF_TURN = 3.14159265359;

// Keeps the edge of a shadow defined where the card touches the rod, mm.
const float LEAST_BLUR = 1e-6;

// Share of a direction's light that passes the rod, which is an endless cylinder.
// point: of the card, and toward: to the light; both across the rod. rows: of the source.
float passing(vec2 point, vec2 toward, float rows)
{
  float apart = abs(point.x * toward.y - point.y * toward.x) / length(toward);
  float blur = 0.5 * HALF_TURN * length(point) / rows + LEAST_BLUR;
  float shade = clamp((rodRadius + blur - apart) / (2.0 * blur), 0.0, 1.0);
  return 1.0 - shade * step(0.0, -dot(point, toward));
}

// The sum over every direction.
void main()
{
  vec4 place = texelFetch(cardPoints, ivec2(gl_FragCoord.x, 0), 0);
  ivec2 size = textureSize(source, 0);
  vec3 irradiance = vec3(0.0);
  for (int row = 0; row < size.y; ++row) {
    float polar = HALF_TURN * (float(row) + 0.5) / float(size.y);
    float ring = HALF_TURN / float(size.y);
    float solidAngle = (cos(polar - 0.5 * ring) - cos(polar + 0.5 * ring)) * ring;
    for (int column = 0; column < size.x; ++column) {
      float azimuth = ring * (float(column) + 0.5);
      vec2 toward = vec2(cos(polar), sin(polar) * sin(azimuth));
      float facing = max(dot(place.zw, toward), 0.0);
      vec3 light = texelFetch(source, ivec2(column, row), 0).rgb;
      irradiance += facing * solidAngle * passing(place.xy, toward, float(size.y)) * light;
    }
  }
  radiance = vec4(albedo / HALF_TURN * irradiance, 1.0);
}
