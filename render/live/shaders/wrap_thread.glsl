// A wrap: the thread at a place, read from the maps.
// Declared before this text: what wrap_place.glsl names, samplesAcross (samples across a pixel),
// preview (1 for the quality of a preview), METAL (F0 of the metal behind the dye), DRY_IOR and
// FINISHED_IOR (index of a thread that is no metal over that of what it lies in: air, or finish),
// FINISH_RETURNS (share of scattered light that the outside of the finish reflects back).

// The least share of the surroundings that reaches a place; colours are divided by it.
const float LEAST_VISIBILITY = 0.01;

// Least share of what mirrors that is divided by.
const float LEAST_SHARE = 1e-4;

// In a preview a pixel is one sample. Its slopes are averaged over a little more than it covers, or
// the ends of threads would flash from frame to frame.
const float PREVIEW_LEVEL_OFFSET = -0.3;

// Where a sample is smaller than a texel, interpolation adds a spurious variance of slopes, which draws
// bright outlines on ridges. Variance is therefore limited to this times the square of the texels that
// the sample covers; in a preview, where slopes are averaged further, to more. No source is recorded
// for the two numbers.
const float MOST_VARIANCE = 0.003;
const float PREVIEW_MOST_VARIANCE = 0.1;

// The map of thread directions holds -pi/2 to pi/2 as 0 to 1.
const float HALF_TURN = 3.14159265359;

// Light that the finish keeps in meets the thread again at a distance of two thicknesses times the
// tangent of its angle: 1.8 thicknesses at the critical angle of 42 degrees, more beyond.
const float RETURN_DISTANCE = 3.0;

// Texels over which at least the threads beside a place are averaged: a row on either side.
const float NEXT_ROWS = 8.0;

// Light that a thread scatters is kept in at every angle beyond the critical one, and meets thread again
// and again: thicknesses of the finish over whose square it is averaged (fitted to path-traced pictures
// of white threads beside dark ones).
const float SCATTER_DISTANCE = 10.0;

// Share of the light that enters a dry thread at normal incidence.
const float DRY_ENTERS = 0.96;

// A place of the thread.
struct Thread {
  vec3 normal;       // of the cover as a whole, without the round of single rows
  vec3 across;       // in the surface, from row to row
  float roughness;   // along the thread, perceptual
  float rounding;    // sine of the steepest normal across a row; 0 for a surface without rows
  float visibility;  // share of the surroundings that reaches the place
  float variance;    // of the slopes that the sample averages away
  float pale;        // share of what is no metal
  vec3 mirror;       // F0 of what is metal, times its share
  vec3 body;         // what scatters, times its share and visibility
};

// Threads at some distance, on which light that the finish keeps in falls again.
struct Neighbours {
  vec3 mirror;     // F0 of what is metal, times its share
  vec3 body;       // what scatters, times its share, over the width that scattered light reaches
  float variance;  // of their slopes
};

// Direction across the rows.
// angle: of the thread from the hoop, rad.
vec3 acrossRows(Frame frame, vec3 normal, float angle)
{
  vec3 along = cos(angle) * frame.hoop + sin(angle) * frame.axis;
  along = normalize(along - dot(along, normal) * normal);
  return cross(normal, along);
}

// Variance of the slopes within a sample: the mean square less the square of the mean (Olano & Baker
// 2010, "LEAN mapping"), of both directions together.
// slopes: mean slope along hoop and axis, mean square of both.
float slopeVariance(vec3 slopes, Footprint footprint)
{
  vec2 texels = abs(footprint.stepX) + abs(footprint.stepY);
  float most = (preview == 1 ? PREVIEW_MOST_VARIANCE : MOST_VARIANCE) * dot(texels, texels);
  return min(max(slopes.z - dot(slopes.xy, slopes.xy), 0.0), most);
}

// Reflectance of what is metal. Dye lies in front of the whole of it: it tints the reflection at every
// angle.
// mirror: F0, times the share of metal. facing: cosine between normal and ray.
vec3 metalReflectance(vec3 mirror, float facing)
{
  return mirror * (mix(METAL, 1.0, schlickRise(facing)) / METAL);
}

// Reflectance of the surface of what is no metal.
// facing: cosine between normal and ray.
float paleReflectance(float facing)
{
  return fresnelDielectric(facing, isFinished() ? FINISHED_IOR : DRY_IOR);
}

// Roughness of metal and of what is no metal together, each by how much it mirrors at normal incidence.
// weighted: roughness of either, times its share. mirror: F0 of metal and its share.
float meanRoughness(vec2 weighted, vec4 mirror)
{
  float brightest = max(max(mirror.r, mirror.g), mirror.b) / max(mirror.a, LEAST_SHARE);
  vec2 reflectance = vec2(brightest, paleReflectance(1.0));
  vec2 shares = vec2(mirror.a, 1.0 - mirror.a);
  return min(dot(weighted, reflectance) / max(dot(shares, reflectance), LEAST_SHARE), 1.0);
}

// The thread at a place of the maps.
Thread threadAt(vec2 place, Frame frame, Footprint footprint)
{
  // A mipmap level averages twice the width of a sample. Where a pixel has several samples a finer
  // level is enough, and keeps the two slopes of a ridge apart.
  float finer = preview == 1 ? PREVIEW_LEVEL_OFFSET : log2(samplesAcross);
  vec4 slopes = textureLod(slopesMap, place, max(footprint.level - finer, 0.0));
  vec4 properties = textureLod(threadMap, place, footprint.level);
  vec4 mirror = textureLod(mirrorMap, place, footprint.level);
  vec4 body = textureLod(bodyMap, place, footprint.level);
  Thread thread;
  thread.normal = normalFromSlopes(frame, slopes.xy);
  thread.across = acrossRows(frame, thread.normal, (properties.w - 0.5) * HALF_TURN);
  thread.roughness = meanRoughness(vec2(properties.x, body.a), mirror);
  thread.rounding = properties.y;
  thread.visibility = max(properties.z, LEAST_VISIBILITY);
  thread.variance = slopeVariance(slopes.xyz, footprint);
  thread.pale = 1.0 - mirror.a;
  thread.mirror = mirror.rgb;
  thread.body = body.rgb * (isFinished() ? 1.0 : DRY_ENTERS);
  return thread;
}

// The threads beside a place, on which light falls again that a thread or the finish keeps in.
// thickness: of the finish, mm.
Neighbours neighboursOf(vec2 place, float thickness, Footprint footprint)
{
  float texels = thickness * mapsPerMm.y * mapSize.y;
  float level = max(footprint.level, log2(max(RETURN_DISTANCE * texels, NEXT_ROWS)));
  float scatterLevel = max(footprint.level, log2(max(SCATTER_DISTANCE * texels, NEXT_ROWS)));
  vec3 mirror = textureLod(mirrorMap, place, level).rgb;
  vec3 body = textureLod(bodyMap, place, scatterLevel).rgb;
  vec3 slopes = textureLod(slopesMap, place, level).xyz;
  return Neighbours(mirror, body, max(slopes.z - dot(slopes.xy, slopes.xy), 0.0));
}

// Reflectance of a body without finish, from that under finish (the inverse of `wet_reflectance` in
// materials/appearance.py).
vec3 dryReflectance(vec3 body)
{
  return body / (1.0 - FINISH_RETURNS + FINISH_RETURNS * body);
}

// What scatters at a place, under a finish that spreads the light which it keeps in over the threads
// around: white beside black is darker than white alone. The colour in the maps takes the place for
// uniform; here the light that returns has met the neighbours instead.
vec3 bodyAmong(Neighbours neighbours, vec3 body)
{
  vec3 around = min(dryReflectance(neighbours.body) + neighbours.mirror, vec3(1.0));
  vec3 once = (1.0 - FINISH_RETURNS) * dryReflectance(body);
  return once / (1.0 - FINISH_RETURNS * around);
}
