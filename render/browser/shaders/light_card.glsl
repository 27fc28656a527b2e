// The card in the light, shaded by the rod: scenes.stage.backdrop.backdrop, point by point and column
// by column.

uniform sampler2D source;       // of light_source.glsl
uniform sampler2D unshaded;     // of light_unshaded.glsl
uniform sampler2D sourceMean;   // of light_mean.glsl
uniform vec3 meanRadiance;      // of the light itself, over all directions
uniform sampler2D cardPoints;   // y and z of each point, mm, and of its normal
uniform sampler2D cardColumns;  // place of each column along the rod, mm
uniform sampler2D silhouettes;  // radius of the rod as slanted light sees it, mm: a row for each slant
uniform vec3 albedo;
uniform vec3 rod;               // first sample of the silhouettes and their distance; largest radius; mm
layout(location = 0) out vec4 radiance;

const float HALF_TURN = 3.14159265359;

// Keeps the edge of a shadow defined where the card touches the rod, mm.
const float LEAST_BLUR = 1e-6;

// Radius of the rod for light that is nearest to its axis at a place along it, mm.
float silhouette(float along, int row)
{
  int last = textureSize(silhouettes, 0).x - 1;
  float at = clamp((along - rod.x) / rod.y, 0.0, float(last) - 1e-3);
  int below = int(at);
  return mix(
    texelFetch(silhouettes, ivec2(below, row), 0).r,
    texelFetch(silhouettes, ivec2(below + 1, row), 0).r,
    at - float(below));
}

// What is unshaded, less what the rod blocks: of the directions round it only those that pass it.
void main()
{
  ivec2 texel = ivec2(gl_FragCoord.xy);
  vec4 place = texelFetch(cardPoints, ivec2(texel.y, 0), 0);
  float along = texelFetch(cardColumns, ivec2(texel.x, 0), 0).r;
  ivec2 size = textureSize(source, 0);
  float ring = HALF_TURN / float(size.y);
  float away = length(place.xy);
  float blur = 0.5 * ring * away + LEAST_BLUR;
  float middle = (atan(place.y, place.x) + HALF_TURN) / ring - 0.5;
  float wide = asin(min((rod.z + blur) / away, 1.0)) / ring;
  vec3 blocked = vec3(0.0);
  for (int k = int(ceil(middle - wide)); k <= int(floor(middle + wide)); ++k) {
    float azimuth = ring * (float(k) + 0.5);
    vec2 toward = vec2(cos(azimuth), sin(azimuth));
    float facing = max(dot(place.zw, toward), 0.0);
    if (facing == 0.0) continue;
    float ahead = -dot(place.xy, toward);
    float apart = abs(place.x * toward.y - place.y * toward.x);
    int column = (k + size.x) % size.x;
    for (int row = 0; row < size.y; ++row) {
      float polar = ring * (float(row) + 0.5);
      float nearest = along + ahead * cos(polar) / sin(polar);
      float radius = silhouette(nearest, min(row, size.y - 1 - row));
      float shade = clamp((radius + blur - apart) / (2.0 * blur), 0.0, 1.0);
      float solidAngle = (cos(polar - 0.5 * ring) - cos(polar + 0.5 * ring)) * ring;
      vec3 light = texelFetch(source, ivec2(column, row), 0).rgb;
      blocked += facing * sin(polar) * solidAngle * shade * light;
    }
  }
  vec3 irradiance = texelFetch(unshaded, ivec2(texel.y, 0), 0).rgb - blocked;
  // The coarse map keeps the light's power only nearly: a lamp may be smaller than its samples.
  vec3 kept = texelFetch(sourceMean, ivec2(0), 0).rgb / meanRadiance;
  radiance = vec4(albedo / HALF_TURN * max(irradiance, 0.0) / kept, 1.0);
}
