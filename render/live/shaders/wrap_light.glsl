// A wrap: the light that its thread and its finish send to the eye. Directions are unit vectors in
// view coordinates; radiance is linear sRGB.

// Share of slopes within s of the mean: of a Gaussian 1 - exp(-s²/a²), of GGX s²/(s² + b²). For the
// same cone to hold three quarters of both, b² is 2 ln 2 / 3 of a² (slope distributions in Heitz 2014,
// "Understanding the masking-shadowing function in microfacet-based BRDFs").
const float SAME_CONE = 0.462;

// The variance of a triangular distribution is the square of half its width over this.
const float TRIANGLE_VARIANCE = 6.0;

// What threads mirror of one another is looked up in two directions of its cone: the sine, about the
// thread, of their angle from the outside's normal. Of light that travels along its thread at too low an
// angle to leave the finish, some leaves after all where threads lean: as much as at this sine of the
// outgoing angle (both fitted to path-traced pictures of the samples).
const float CONE_LEAN = 0.25;
const float LOWEST_LEAVING = 0.9;

// Share of the light of a thread beside that leaves between both threads, and is not blocked again
// (fitted to path-traced pictures of the samples).
const float BESIDE = 0.25;

// The widest lobe of a tap, as the square of GGX's alpha.
const float WIDEST_LOBE = 0.5;

// Perceptual roughness to the square of GGX's alpha: the fourth power.
const float ALPHA_SQUARED = 4.0;

// The least share of a flank that is seen between threads of different heights.
const float LEAST_FLANK = 0.05;

// Scattered light is looked up for a flank that leans less than its thread's does: the flank that faces
// the light is the one that its neighbour shades (fitted to path-traced pictures).
const float FLANK_LEAN = 0.5;

// Sines of a reflected ray's rise over the surface, seen along the thread: below the first it meets
// the next thread, above the second it passes it. No source is recorded.
const float BLOCKED_BELOW = -0.25;
const float FREE_ABOVE = 0.3;
const float LEAST_LENGTH = 1e-3;

// Visibility of a thread that lies as deep as one between two others on it, and the sine of the angle at
// which these end, seen from it: sqrt(1 - visibility), as scenes.stage.maps defines it.
const float DEEP_VISIBILITY = 0.5;
const float DEEP_WALLS = 0.707;

// How dark the cleft between two round threads is, and the power of the place across the row by
// which it darkens. No source is recorded.
const float CLEFT_DARKNESS = 0.7;
const float CLEFT_POWER = 6.0;

// Everything known at the place that a sample shows.
struct Place {
  Frame frame;
  vec3 outside;  // normal of the outside
  vec3 toEye;    // below the outside
  Thread thread;
  Neighbours neighbours;
  float roughness;  // of the lobe of each tap, perceptual
  vec3 beside;      // radiance that a thread beside sends to this one
  float deep;       // share of thread that lies deep
};

// Sums over the taps of a sample.
struct Gathered {
  float weight;
  vec3 sent;  // radiance to the eye, times weight
  vec3 kept;  // share of what metal mirrors that the outside reflects back into the finish, times weight
};

// Roughness of the lobe of one tap. Averaging widens it: over the slopes within the sample, and over
// the normals up to the next tap. Refraction on the way out widens it by the index of the finish
// (Snell's law, differentiated).
// spacing: of the taps, rows.
float tapRoughness(Thread thread, float spacing)
{
  float apart = QUARTER * 2.0 * thread.rounding * spacing;
  float variance = SAME_CONE * (thread.variance + apart * apart / TRIANGLE_VARIANCE);
  float alphaSquared = finishIor * finishIor * (pow(thread.roughness, ALPHA_SQUARED) + variance);
  return sqrt(sqrt(min(alphaSquared, WIDEST_LOBE)));
}

// Normal at a place across a row.
// x: sine of its lean towards `across`.
vec3 rowNormal(Thread thread, float x)
{
  return sqrt(1.0 - x * x) * thread.normal + x * thread.across;
}

// Share of a flank that is seen. Deep threads are partly covered by higher ones beside them, round
// ones most: less is seen of their flanks than of those of a level row (measured on stripes of two
// heights).
// x: sine of the flank's lean. facing: cosine between its normal and the eye.
float flankShare(float x, float facing)
{
  return step(0.0, facing) * max(1.0 - x * x * x * x, LEAST_FLANK);
}

// Share of a reflected ray that passes the neighbouring threads. A ray along its own thread, however
// low, meets none. Threads that lie deep lie between walls: where a sample covers these and others, by
// the share of either.
float openness(vec3 ray, Place place)
{
  vec2 rises = vec2(dot(ray, place.frame.radial), dot(ray, place.thread.across));
  float rise = rises.x / max(length(rises), LEAST_LENGTH);
  float deep = smoothstep(BLOCKED_BELOW, FREE_ABOVE, rise - DEEP_WALLS);
  return mix(smoothstep(BLOCKED_BELOW, FREE_ABOVE, rise), deep, place.deep);
}

// Light that reaches a place across a row, 0 to 1: the cleft between two round threads is dark.
float cleftLight(float y, float rounding)
{
  return 1.0 - CLEFT_DARKNESS * rounding * rounding * pow(abs(y), CLEFT_POWER);
}

// Radiance that a thread mirrors along a ray, through the finish if there is any.
// ray: from the thread. kept: share of it that the outside reflects back. roughness: of the lobe,
// perceptual.
vec3 mirroredRadiance(vec3 ray, float kept, float roughness, Place place)
{
  if (!isFinished()) return blurredRadiance(ray, roughness);
  vec3 leaving = refract(ray, -place.outside, finishIor);
  return kept < 1.0 ? (1.0 - kept) * blurredRadiance(leaving, roughness) : vec3(0.0);
}

// Roughness of what threads mirror of one another: of two mirrorings, one of them by threads that lean in
// many ways. Half of the variance of their slopes is along the thread; across it the cone is wide anyhow.
float coneRoughness(Place place)
{
  float lean = 0.5 * SAME_CONE * finishIor * finishIor * place.neighbours.variance;
  float alphaSquared = 2.0 * pow(place.roughness, ALPHA_SQUARED) + lean;
  return sqrt(sqrt(min(alphaSquared, WIDEST_LOBE)));
}

// Radiance that threads mirror of one another. Light that threads side by side and the outside mirror
// keeps its part along the threads every time, and so leaves on a cone about their direction, as from a
// fibre of hair (Marschner et al. 2003, "Light scattering from human hair fibers").
// roughness: of the lobe, perceptual.
vec3 coneRadiance(Place place, float roughness)
{
  vec3 along = cross(place.thread.across, place.thread.normal);
  along = normalize(along - dot(along, place.outside) * place.outside);
  vec3 aside = cross(along, place.outside);
  float most = LOWEST_LEAVING / finishIor;
  float part = clamp(dot(reflect(-place.toEye, place.thread.normal), along), -most, most);
  float rest = sqrt(1.0 - part * part);
  vec3 middle = part * along + rest * sqrt(1.0 - CONE_LEAN * CONE_LEAN) * place.outside;
  vec3 lean = rest * CONE_LEAN * aside;
  float kept = isFinished() ? fresnelDielectric(dot(middle, place.outside), 1.0 / finishIor) : 0.0;
  vec3 one = mirroredRadiance(middle + lean, kept, roughness, place);
  return 0.5 * (one + mirroredRadiance(middle - lean, kept, roughness, place));
}

// Adds the light of one tap.
// y: place across the row, -1 to 1. share: how much of the tap the pixel sees.
void addTap(inout Gathered sums, Place place, float y, float share)
{
  Thread thread = place.thread;
  float x = y * thread.rounding;
  vec3 normal = rowNormal(thread, x);
  float facing = dot(normal, place.toEye);
  float weight = share * flankShare(x, facing);
  vec3 ray = reflect(-place.toEye, normal);
  vec3 metal = metalReflectance(thread.mirror, facing);
  vec3 reflectance = metal + thread.pale * paleReflectance(facing);
  float open = openness(ray, place);
  float kept = 0.0;
  if (isFinished()) {
    kept = fresnelDielectric(dot(ray, place.outside), 1.0 / finishIor);
    sums.kept += weight * open * kept * metal;
  }
  // A ray that meets the neighbouring thread carries that thread's light.
  vec3 free = mirroredRadiance(ray, kept, place.roughness, place);
  vec3 mirrored = reflectance * mix(place.beside, free, open);
  vec3 lit = mix(thread.normal, normal, FLANK_LEAN);
  float map = isFinished() ? LIGHT_IN_FINISH : LIGHT_IN_AIR;
  vec3 scattered = thread.body * scatteredRadiance(lit, map);
  sums.sent += weight * cleftLight(y, thread.rounding) * (mirrored + scattered);
  sums.weight += weight;
}
