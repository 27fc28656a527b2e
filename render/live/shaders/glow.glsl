// The backdrop: it sends light of its own and is lit by nothing.

// Declared before this text: cardMap (radiance sent to any eye, linear sRGB), tcoordVCVSOutput,
// pictureCorner (of what is drawn in the whole picture, samples).

// sRGB of a sample, 0 to 1.
// normal, position: as every kind of body has them; not used.
vec3 shaded(vec3 normal, vec3 position)
{
  return displayed(texture(cardMap, tcoordVCVSOutput).rgb) + dither(gl_FragCoord.xy + pictureCorner);
}
