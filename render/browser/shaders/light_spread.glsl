// Maps of a light with few texels, as large as the shading looks them up.

uniform sampler2D coarse;    // one map above the other, each with a border of one texel
uniform float coarseSide;    // texels of a side of each, without it
uniform float mapFrom;       // the first to be read
uniform float rowFrom;       // of the target, where it begins
layout(location = 0) out vec4 radiance;

// Linear between texel centres.
void main()
{
  vec2 texel = gl_FragCoord.xy - vec2(0.0, rowFrom);
  float map = floor(texel.y / (LIGHT_SIDE + 2.0));
  texel = (texel - vec2(0.0, map * (LIGHT_SIDE + 2.0)) - 1.0) * coarseSide / LIGHT_SIDE + 1.0;
  // The border repeats what lies beyond the edges.
  texel.y = clamp(texel.y, 0.5, coarseSide + 2.0 - 0.5);
  texel.y += (map + mapFrom) * (coarseSide + 2.0);
  radiance = textureLod(coarse, texel / vec2(textureSize(coarse, 0)), 0.0);
}
