// A wrap: the light that its thread and its finish send to the eye. Directions are unit vectors in
// view coordinates; radiance is linear sRGB.

// Share of slopes within s of the mean: of a Gaussian 1 - exp(-s²/a²), of GGX s²/(s² + b²). For the
// same cone to hold three quarters of both, b² is 2 ln 2 / 3 of a² (slope distributions in Heitz 2014,
// "Understanding the masking-shadowing function in microfacet-based BRDFs").
const float SAME_CONE = 0.462;

// The variance of a triangular distribution is the square of half its width over this.
const float TRIANGLE_VARIANCE = 6.0;

// Irradiance on a thread from the one beside it, over that on the wrap as a whole: half of what it
// sees.
const float BESIDE = 0.5;

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
};

// Light that the outside reflects back into the finish.
struct Kept {
  vec3 strength;  // reflectance at both ends of its path, times the weight of its taps
  vec3 run;       // direction along the outside, times the weight of its taps
};

// Sums over the taps of a sample.
struct Gathered {
  float weight;
  vec3 sent;      // radiance to the eye, times weight
  Kept both;      // kept in, from both flanks of the rows
  Kept oneFlank;  // from one alone
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
// low, meets none.
float openness(vec3 ray, Place place)
{
  vec2 rises = vec2(dot(ray, place.frame.radial), dot(ray, place.thread.across));
  return smoothstep(BLOCKED_BELOW, FREE_ABOVE, rises.x / max(length(rises), LEAST_LENGTH));
}

// Light that reaches a place across a row, 0 to 1: the cleft between two round threads is dark.
float cleftLight(float y, float rounding)
{
  return 1.0 - CLEFT_DARKNESS * rounding * rounding * pow(abs(y), CLEFT_POWER);
}

// Radiance that a thread mirrors along a ray, through the finish if there is any.
// ray: from the thread. kept: share of it that the outside reflects back.
vec3 mirroredRadiance(vec3 ray, float kept, Place place)
{
  if (!isFinished()) return blurredRadiance(ray, place.roughness);
  vec3 leaving = refract(ray, -place.outside, finishIor);
  return kept < 1.0 ? (1.0 - kept) * blurredRadiance(leaving, place.roughness) : vec3(0.0);
}

// Adds the part of one tap's light that the outside reflects back. The two flanks of a row send it in
// opposite directions, and their mean direction is unstable where they nearly cancel: one flank is
// therefore also summed separately.
// strength: reflectance of the tap, times its weight. run: weight. y: place across the row.
void addKept(inout Gathered sums, vec3 strength, vec3 run, float y)
{
  float flank = step(0.0, y);
  sums.both.strength += strength;
  sums.both.run += run;
  sums.oneFlank.strength += flank * strength;
  sums.oneFlank.run += flank * run;
}

// Adds the light of one tap.
// y: place across the row, -1 to 1. share: how much of the tap the pixel sees. beside: radiance from
// the neighbouring threads, before their reflectance.
void addTap(inout Gathered sums, Place place, float y, float share, vec3 beside)
{
  Thread thread = place.thread;
  float x = y * thread.rounding;
  vec3 normal = rowNormal(thread, x);
  float facing = dot(normal, place.toEye);
  float weight = share * flankShare(x, facing);
  vec3 ray = reflect(-place.toEye, normal);
  vec3 reflectance = threadReflectance(thread.pale, thread.mirror, facing);
  float open = openness(ray, place);
  float kept = 0.0;
  if (isFinished()) {
    kept = fresnelDielectric(dot(ray, place.outside), 1.0 / finishIor);
    vec3 again = threadReflectance(place.neighbours.pale, place.neighbours.mirror, facing);
    vec3 along = normalize(ray - dot(ray, place.outside) * place.outside);
    addKept(sums, weight * open * kept * reflectance * again, kept * weight * along, y);
  }
  // A ray that meets the neighbouring thread carries that thread's light, reflected once more.
  vec3 mirrored = mix(
    reflectance * reflectance * beside,
    reflectance * mirroredRadiance(ray, kept, place),
    open);
  vec3 lit = mix(thread.normal, normal, FLANK_LEAN);
  float map = isFinished() ? LIGHT_IN_FINISH : LIGHT_IN_AIR;
  vec3 scattered = thread.body * scatteredRadiance(lit, map);
  sums.sent += weight * cleftLight(y, thread.rounding) * (mirrored + scattered);
  sums.weight += weight;
}
