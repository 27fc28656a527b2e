// Ground with a pattern: card that sends light of its own and is lit by nothing.

// Declared before this text: cardMap (radiance that the mean of the pattern sends to any eye, linear
// sRGB), groundMap (share of the lighter colour, one tile), groundDark and groundLight (colours of the
// pattern, each divided by the mean), tcoordVCVSOutput, pictureCorner (of what is drawn in the whole
// picture, samples).

in vec2 groundPlace;  // along the rod and along the card, tiles

// Most lookups for a sample that covers a long and narrow part of the ground.
const float GROUND_MOST_TAPS = 8.0;

// Share of the lighter colour, the mean over what a sample covers: ground is seen from a low angle, and
// one lookup would blur its pattern across as much as along.
float groundShare()
{
  vec2 texels = vec2(textureSize(groundMap, 0));
  vec2 right = dFdx(groundPlace), up = dFdy(groundPlace);
  float wide = length(right * texels), high = length(up * texels);
  vec2 longer = wide > high ? right : up;
  float most = max(wide, high), least = max(min(wide, high), 1.0);
  float taps = clamp(ceil(most / least), 1.0, GROUND_MOST_TAPS);
  float level = log2(max(most / taps, 1.0));
  float sum = 0.0;
  for (float tap = 0.5; tap < taps; tap += 1.0) {
    sum += textureLod(groundMap, groundPlace + (tap / taps - 0.5) * longer, level).r;
  }
  return sum / taps;
}

// sRGB of a sample, 0 to 1.
// normal, position: as every kind of body has them; not used.
vec3 shaded(vec3 normal, vec3 position)
{
  vec3 relative = mix(groundDark, groundLight, groundShare());
  vec3 radiance = relative * texture(cardMap, tcoordVCVSOutput).rgb;
  return displayed(radiance) + dither(gl_FragCoord.xy + pictureCorner);
}
