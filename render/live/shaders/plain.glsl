// A body of one appearance: blank, grip, guide, winding check.
// Declared before this text: metallicOf (0 to 1), roughnessOf (perceptual).

in vec3 baseColourVS;  // linear sRGB; F0 of a metal, else the colour of the body

// F0 of a dielectric of index 1.5: ((1.5 - 1) / (1.5 + 1)) squared.
const float PLAIN_F0 = 0.04;

// The least cosine between normal and eye: at the outline a normal may point away from the eye.
const float PLAIN_LEAST_FACING = 0.02;

// A polynomial and an exponential in roughness and cosine to the eye (Karis 2014, "Physically based
// shading on mobile", after Lazarov 2013, "Getting more physical in Call of Duty: Black Ops II").
const vec4 DIRECTIONAL_SLOPE = vec4(-1.0, -0.0275, -0.572, 0.022);
const vec4 DIRECTIONAL_START = vec4(1.0, 0.0425, 1.04, -0.04);
const float DIRECTIONAL_FALL = -9.28;
const vec2 DIRECTIONAL_GRAZING = vec2(-1.04, 1.04);

// Reflectance of a rough surface in evenly bright surroundings: a GGX surface with Smith's masking
// and Schlick's reflectance.
// f0: at normal incidence. roughness: perceptual. facing: cosine between normal and eye.
vec3 directionalReflectance(vec3 f0, float roughness, float facing)
{
  vec4 r = roughness * DIRECTIONAL_SLOPE + DIRECTIONAL_START;
  float grazing = min(r.x * r.x, exp2(DIRECTIONAL_FALL * facing)) * r.x + r.y;
  vec2 scaleAndBias = DIRECTIONAL_GRAZING * grazing + r.zw;
  return f0 * scaleAndBias.x + scaleAndBias.y;
}

// Direction about which a rough surface mirrors: the rougher it is, the nearer to its normal (Lagarde &
// de Rousiers 2014, "Moving Frostbite to physically based rendering", section 4.9.3).
// roughness: perceptual. Of any length.
vec3 mirrorDirection(vec3 normal, vec3 toEye, float roughness)
{
  float smoothness = 1.0 - roughness * roughness;
  float share = smoothness * (sqrt(smoothness) + roughness * roughness);
  return mix(normal, reflect(-toEye, normal), share);
}

// sRGB of a sample, 0 to 1.
// normal: unit, view coordinates. position: view coordinates, mm.
vec3 shaded(vec3 normal, vec3 position)
{
  vec3 toEye = directionToEye(position);
  vec3 f0 = mix(vec3(PLAIN_F0), baseColourVS, metallicOf);
  float facing = max(dot(normal, toEye), PLAIN_LEAST_FACING);
  vec3 reflectance = directionalReflectance(f0, roughnessOf, facing);
  vec3 shine = reflectance * blurredRadiance(mirrorDirection(normal, toEye, roughnessOf), roughnessOf);
  vec3 body = (1.0 - metallicOf) * baseColourVS * scatteredRadiance(normal, LIGHT_IN_AIR);
  return displayed(shine + body);
}
