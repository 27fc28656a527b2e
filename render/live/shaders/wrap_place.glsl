// A wrap: where a sample lies on the blank, how its finish leans, and which part of the thread below
// it shows. Directions are unit vectors in view coordinates.
// Declared before this text: the maps of scenes.stage.maps.SurfaceMaps as textures (theta along s, stations
// along t), mapSize (their texels), mapsPerMm (1 over their extent, per mm), finishIor (refractive
// index of the finish; 1 for a dry wrap).

in vec3 axisVS;              // along the blank, butt to tip
centroid in vec3 coveredVS;  // the radial direction at a place that the triangle covers

// The least cosine between the outside and the eye: what is seen faces the eye, if barely.
const float LEAST_FACING = 0.02;

// At the outline the middle of a sample may lie outside the triangle that it shows, and a direction
// extrapolated to there is far off. Where the direction turns within a sample by more than a third of
// its cosine to the eye, the direction at a place that the triangle covers is used instead.
const float STEADY_TURN = 3.0;

// The least cosine below the finish between ray and radius: a ray in finish of index 1.5 keeps 0.75
// on a smooth rod; beside a steep slope the look-up must not run off.
const float LEAST_DESCENT = 0.25;

// Texels to a sample from which texels are large, in part and wholly: sides of threads are then drawn
// exactly, and the outside is interpolated smoothly.
const float CLOSE_FROM = 1.0;
const float WHOLLY_CLOSE = 0.5;

// The weights of a cubic B-spline are sixths. Between two pairs of texels lies a texel and a half.
const float SIXTH = 1.0 / 6.0;
const float PAIR = 1.5;

// Directions at a place of the blank.
struct Frame {
  vec3 radial;
  vec3 hoop;  // towards larger theta
  vec3 axis;  // towards the tip
};

// The part of the maps that one sample covers.
struct Footprint {
  vec2 stepX;   // texels from this sample to the next one, across the picture
  vec2 stepY;   // the same, up the picture
  float level;  // mipmap level whose texels are as large
  float close;  // 0 where texels are smaller than the sample, to 1 where they are large
};

// Whether the wrap lies under finish.
bool isFinished()
{
  return finishIor > 1.0;
}

// The frame at a place.
// meshNormal: the radial direction, from the mesh. along: the axis; neither need be unit length.
Frame frameOf(vec3 meshNormal, vec3 along)
{
  vec3 axis = normalize(along);
  vec3 hoop = normalize(cross(axis, meshNormal));
  return Frame(cross(hoop, axis), hoop, axis);
}

// Normal of a surface that leans by slopes.
// slopes: rise of the radius per length along hoop and axis.
vec3 normalFromSlopes(Frame frame, vec2 slopes)
{
  return normalize(frame.radial - slopes.x * frame.hoop - slopes.y * frame.axis);
}

// The footprint of a sample. The level is that of mipmapping (OpenGL 3.2, section 3.8.9).
// place: of the sample on the maps, 0 to 1.
Footprint footprintOf(vec2 place)
{
  vec2 stepX = dFdx(place) * mapSize;
  vec2 stepY = dFdy(place) * mapSize;
  float widest = max(dot(stepX, stepX), dot(stepY, stepY));
  float close = clamp((CLOSE_FROM - sqrt(widest)) / (CLOSE_FROM - WHOLLY_CLOSE), 0.0, 1.0);
  return Footprint(stepX, stepY, 0.5 * log2(max(widest, 1.0)), close);
}

// Weights of the four texels about a place: the cubic B-spline.
// t: fraction of the place between the middle two, 0 to 1.
vec4 splineWeights(float t)
{
  float u = 1.0 - t;
  float first = u * u * u * SIXTH;
  float last = t * t * t * SIXTH;
  float second = 2.0 * 2.0 * SIXTH - t * t * (1.0 - 0.5 * t);
  return vec4(first, second, 1.0 - first - second - last, last);
}

// The outside at a place of the maps: slopes along hoop and axis, thickness of the finish in mm. Close
// up it is mirrored in facets if it is interpolated linearly; a cubic B-spline of 4 x 4 texels bends
// smoothly. It is read as the mean of four linear interpolations (Sigg & Hadwiger 2005, "Fast
// third-order texture filtering").
vec3 outsideAt(vec2 place, Footprint footprint)
{
  vec3 linear = texture(outsideMap, place).xyz;
  if (footprint.close == 0.0) return linear;
  vec2 size = vec2(textureSize(outsideMap, 0));
  vec2 position = place * size - 0.5;
  vec2 corner = floor(position);
  vec4 x = splineWeights(position.x - corner.x);
  vec4 y = splineWeights(position.y - corner.y);
  vec2 near = vec2(x.x + x.y, y.x + y.y);
  vec2 before = (corner - 0.5 + vec2(x.y, y.y) / near) / size;
  vec2 after = (corner + PAIR + vec2(x.w, y.w) / (1.0 - near)) / size;
  vec3 low = mix(
    textureLod(outsideMap, vec2(after.x, before.y), 0.0).xyz,
    textureLod(outsideMap, before, 0.0).xyz, near.x);
  vec3 high = mix(
    textureLod(outsideMap, after, 0.0).xyz,
    textureLod(outsideMap, vec2(before.x, after.y), 0.0).xyz, near.x);
  return mix(linear, mix(high, low, near.y), footprint.close);
}

// Normal of the outside: of the finish, or of the thread itself when dry. It faces the eye.
// slopes: of the outside along hoop and axis.
vec3 outsideNormal(Frame frame, vec2 slopes, vec3 toEye)
{
  vec3 outside = normalFromSlopes(frame, slopes);
  vec3 radial = normalize(coveredVS);
  Frame covered = Frame(radial, normalize(cross(frame.axis, radial)), frame.axis);
  vec3 steady = normalFromSlopes(covered, slopes);
  if (dot(steady, toEye) < STEADY_TURN * fwidth(dot(outside, toEye))) outside = steady;
  return normalize(outside + max(LEAST_FACING - dot(outside, toEye), 0.0) * toEye);
}

// Direction to the eye below the outside (Snell's law).
vec3 refractedToEye(vec3 toEye, vec3 outside)
{
  return isFinished() ? -refract(-toEye, outside, 1.0 / finishIor) : toEye;
}

// Place on the maps of the thread that a sample shows: where the refracted ray meets it, not straight
// below. The thickness is looked up twice, the second time where the first ray meets the thread.
// place: of the sample on the maps, 0 to 1. thickness: of the finish there, mm.
vec2 placeBelow(vec2 place, float thickness, Frame frame, vec3 outside, vec3 toEye, float level)
{
  if (!isFinished()) return place;
  vec3 down = refract(-toEye, outside, 1.0 / finishIor);
  float descent = max(-dot(down, frame.radial), LEAST_DESCENT);
  vec2 run = vec2(dot(down, frame.hoop), dot(down, frame.axis)) / descent * mapsPerMm;
  return place + run * textureLod(outsideMap, place + run * thickness, level).z;
}
