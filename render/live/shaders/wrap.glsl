// A wrap: the sample as a whole, and what the outside of its finish does.

// The variance of an even distribution is the square of its width over this.
const float EVEN_VARIANCE = 12.0;

// The widest and the narrowest mirror of the outside, as the square of GGX's alpha.
const float WIDEST_MIRROR = 0.18;
const float NARROWEST_MIRROR = 1e-6;

// Light that the finish keeps in: the share that gets out at each return, how steeply it rises for
// its run, and its roughness (all fitted to path-traced pictures of the samples).
const float RETURN_ESCAPES = 0.35;
const float RETURN_RISE = 0.4;
const float RETURN_ROUGHNESS = 0.35;

// Keeps the direction of returned light defined where its strength is zero.
const float LEAST_RUN = 1e-4;

// Keeps the mean over the taps defined where no tap is seen.
const float LEAST_WEIGHT = 1e-6;

// Radiance that the outside mirrors. Where the outside bends within a sample the mirror image blurs
// evenly over the bend. A wider lobe would flicker less, but its tails pick up a small lamp from
// places that do not mirror it.
// reflectance: of the outside.
vec3 glossOf(vec3 outside, vec3 toEye, float reflectance)
{
  vec3 bendX = dFdx(outside);
  vec3 bendY = dFdy(outside);
  float bend = dot(bendX, bendX) + dot(bendY, bendY);
  float alphaSquared = min(SAME_CONE / EVEN_VARIANCE * bend, WIDEST_MIRROR);
  float roughness = sqrt(sqrt(NARROWEST_MIRROR + alphaSquared));
  return reflectance * blurredRadiance(reflect(-toEye, outside), roughness);
}

// Radiance of light that the finish has kept in, where it leaves: at a low angle and much blurred.
// run: its direction along the outside, of any length.
vec3 returnedRadiance(vec3 run, vec3 outside)
{
  vec3 leaving = normalize(run + LEAST_RUN * outside) + RETURN_RISE * outside;
  return blurredRadiance(leaving, RETURN_ROUGHNESS);
}

// Light that the outside reflects back travels below it until a row's round section turns it out.
// Light that does not leave meets thread again, repeatedly (a geometric series).
vec3 returned(Gathered sums, Place place)
{
  vec3 other = sums.both.strength - sums.oneFlank.strength;
  vec3 light = other * returnedRadiance(sums.both.run - sums.oneFlank.run, place.outside);
  light += sums.oneFlank.strength * returnedRadiance(sums.oneFlank.run, place.outside);
  return light * RETURN_ESCAPES / (1.0 - (1.0 - RETURN_ESCAPES) * place.neighbours.mirror);
}

// Radiance that thread sends to the eye: the mean over the part of the rows that the pixel sees.
// passes: share that the outside lets through.
vec3 threadRadiance(Place place, Rows rows, Taps spread, float passes)
{
  Thread thread = place.thread;
  RowView view = rowView(thread, place.toEye);
  float map = isFinished() ? LIGHT_IN_FINISH : LIGHT_IN_AIR;
  vec3 beside = BESIDE / thread.visibility * scatteredRadiance(place.frame.radial, map);
  Kept none = Kept(vec3(0.0), vec3(0.0));
  Gathered sums = Gathered(LEAST_WEIGHT, vec3(0.0), none, none);
  for (int i = 0; i < taps; ++i) {
    float row = (spread.first + float(i) + 0.5 + spread.offset) * spread.spacing;
    float share = tapShare(abs(row - rows.phase), rows.seen, spread.spacing);
    addTap(sums, place, placeAcross(fract(row), view), share, beside);
  }
  if (isFinished()) sums.sent += returned(sums, place);
  return passes * sums.sent / sums.weight;
}

// sRGB of a sample, 0 to 1.
// meshNormal: the radial direction, view coordinates. position: view coordinates, mm.
vec3 shaded(vec3 meshNormal, vec3 position)
{
  vec3 toEye = directionToEye(position);
  Frame frame = frameOf(meshNormal, axisVS);
  Footprint footprint = footprintOf(tcoordVCVSOutput);
  vec3 coat = outsideAt(tcoordVCVSOutput, footprint);
  vec3 outside = outsideNormal(frame, coat.xy, toEye);
  vec2 spot = placeBelow(tcoordVCVSOutput, coat.z, frame, outside, toEye, footprint.level);
  Seen seen = seenAt(spot, footprint);
  Thread thread = threadSeen(seen, frame, footprint);
  Neighbours neighbours = neighboursOf(spot, coat.z, footprint);
  if (isFinished()) thread.body = bodyAmong(neighbours, thread.body);
  Rows rows = rowsSeen(seen, footprint);
  Taps spread = tapsFor(rows, gl_FragCoord.xy);
  float roughness = tapRoughness(thread, spread.spacing);
  vec3 below = refractedToEye(toEye, outside);
  Place place = Place(frame, outside, below, thread, neighbours, roughness);
  float reflectance = isFinished() ? fresnelDielectric(dot(outside, toEye), finishIor) : 0.0;
  vec3 gloss = isFinished() ? glossOf(outside, toEye, reflectance) : vec3(0.0);
  vec3 radiance = threadRadiance(place, rows, spread, 1.0 - reflectance);
  return displayed(radiance + gloss);
}
