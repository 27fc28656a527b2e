// The backdrop: it sends light of its own and is lit by nothing.

in vec3 baseColourVS;  // radiance sent to any eye, linear sRGB

// sRGB of a sample, 0 to 1.
// normal, position: as every kind of body has them; not used.
vec3 shaded(vec3 normal, vec3 position)
{
  return displayed(baseColourVS) + dither(gl_FragCoord.xy);
}
