// A wrap: the sample as a whole, and what the outside of its finish does.
// Declared before this text: pictureCorner (of what is drawn in the whole picture, samples).

// The variance of an even distribution is the square of its width over this.
const float EVEN_VARIANCE = 12.0;

// The widest and the narrowest mirror of the outside, as the square of GGX's alpha.
const float WIDEST_MIRROR = 0.18;
const float NARROWEST_MIRROR = 1e-6;

// Share of the light kept in by the finish that gets out at each return (fitted to path-traced pictures
// of the samples).
const float RETURN_ESCAPES = 0.35;

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

// Light that metal mirrors and the outside reflects back: metal mirrors it again, repeatedly (a geometric
// series). What of it falls on thread that scatters is left out: it is little, and pictures without it
// are nearer to path-traced ones.
// kept: share of what the first thread's metal mirrors that the outside reflects back. mirrored: radiance
// on the cone of threads.
vec3 returned(vec3 kept, Place place, vec3 mirrored)
{
  vec3 metal = place.neighbours.mirror;
  return kept * mirrored * RETURN_ESCAPES * metal / (1.0 - (1.0 - RETURN_ESCAPES) * metal);
}

// Radiance that thread sends to the eye: the mean over the part of the rows that the pixel sees.
// passes: share that the outside lets through.
vec3 threadRadiance(Place place, Rows rows, Taps spread, float passes)
{
  Thread thread = place.thread;
  RowView view = rowView(thread, place.toEye);
  vec3 mirrored = coneRadiance(place, coneRoughness(place));
  place.beside = BESIDE * place.neighbours.mirror * mirrored;
  Gathered sums = Gathered(LEAST_WEIGHT, vec3(0.0), vec3(0.0));
  for (int i = 0; i < taps; ++i) {
    float row = (spread.first + float(i) + 0.5 + spread.offset) * spread.spacing;
    float share = tapShare(abs(row - rows.phase), rows.seen, spread.spacing);
    addTap(sums, place, placeAcross(fract(row), view), share);
  }
  if (isFinished()) sums.sent += returned(sums.kept, place, mirrored);
  return passes * sums.sent / sums.weight;
}

// sRGB of a sample, 0 to 1.
// meshNormal: the radial direction, view coordinates. position: view coordinates, mm.
vec3 shaded(vec3 meshNormal, vec3 position)
{
  vec3 toEye = directionToEye(position);
  Frame frame = frameOf(meshNormal, axisVS);
  fromAxis = lightFromView * frame.radial / (2.0 * HALF_TURN * mapsPerMm.x);
  Footprint footprint = footprintOf(tcoordVCVSOutput);
  vec3 coat = outsideAt(tcoordVCVSOutput, footprint);
  vec3 outside = outsideNormal(frame, coat.xy, toEye);
  vec2 spot = placeBelow(tcoordVCVSOutput, coat.z, frame, outside, toEye, footprint.level);
  Seen seen = seenAt(spot, footprint);
  Thread thread = threadSeen(seen, frame, footprint);
  Neighbours neighbours = neighboursOf(spot, coat.z, footprint);
  if (isFinished()) thread.body = bodyAmong(neighbours, thread.body);
  Rows rows = rowsSeen(seen, footprint);
  Taps spread = tapsFor(rows, gl_FragCoord.xy + pictureCorner);
  float roughness = tapRoughness(thread, spread.spacing);
  vec3 below = refractedToEye(toEye, outside);
  float deep = clamp((1.0 - thread.visibility) / (1.0 - DEEP_VISIBILITY), 0.0, 1.0);
  Place place = Place(frame, outside, below, thread, neighbours, roughness, vec3(0.0), deep);
  float reflectance = isFinished() ? fresnelDielectric(dot(outside, toEye), finishIor) : 0.0;
  vec3 gloss = isFinished() ? glossOf(outside, toEye, reflectance) : vec3(0.0);
  vec3 radiance = threadRadiance(place, rows, spread, 1.0 - reflectance);
  return displayed(radiance + gloss);
}
