// Irradiance of the card without a rod: scenes.stage.backdrop.backdrop, point by point.

uniform sampler2D source;      // of light_source.glsl
uniform sampler2D cardPoints;  // y and z of each point, mm, and of its normal
layout(location = 0) out vec4 irradiance;

const float HALF_TURN = 3.14159265359;

// The sum over every direction.
void main()
{
  vec2 normal = texelFetch(cardPoints, ivec2(gl_FragCoord.x, 0), 0).zw;
  ivec2 size = textureSize(source, 0);
  float ring = HALF_TURN / float(size.y);
  irradiance = vec4(0.0, 0.0, 0.0, 1.0);
  for (int column = 0; column < size.x; ++column) {
    float azimuth = ring * (float(column) + 0.5);
    float facing = max(dot(normal, vec2(cos(azimuth), sin(azimuth))), 0.0);
    if (facing == 0.0) continue;
    for (int row = 0; row < size.y; ++row) {
      float polar = ring * (float(row) + 0.5);
      float solidAngle = (cos(polar - 0.5 * ring) - cos(polar + 0.5 * ring)) * ring;
      irradiance.rgb += facing * sin(polar) * solidAngle * texelFetch(source, ivec2(column, row), 0).rgb;
    }
  }
}
