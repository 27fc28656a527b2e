// Mean radiance of a light over all directions, from its map about the rod.

uniform sampler2D source;  // of light_source.glsl
layout(location = 0) out vec4 mean;

const float HALF_TURN = 3.14159265359;

void main()
{
  ivec2 size = textureSize(source, 0);
  float ring = HALF_TURN / float(size.y);
  mean = vec4(0.0, 0.0, 0.0, 1.0);
  for (int row = 0; row < size.y; ++row) {
    vec3 sum = vec3(0.0);
    for (int column = 0; column < size.x; ++column) {
      sum += texelFetch(source, ivec2(column, row), 0).rgb;
    }
    // Share of a row in all directions, over its texels.
    float share = 0.5 * (cos(ring * float(row)) - cos(ring * float(row + 1)));
    mean.rgb += share / float(size.x) * sum;
  }
}
