// A body of one appearance: blank, grip, guide, winding check.
// Declared before this text: metallicOf (0 to 1), roughnessOf (perceptual).

in vec3 baseColourVS;  // linear sRGB; F0 of a metal, else the colour of the body

// F0 of a dielectric of index 1.5: ((1.5 - 1) / (1.5 + 1)) squared.
const float PLAIN_F0 = 0.04;

// How much reflectance a perfectly smooth dielectric gains at most towards grazing. A rough one
// gains less: its facets stand in one another's way.
const float GRAZING_GAIN = 0.3;

// The least cosine between normal and eye: at the outline a normal may point away from the eye.
const float PLAIN_LEAST_FACING = 0.02;

// Reflectance of the body's shine (Schlick 1994), linear.
// facing: cosine between normal and eye.
vec3 plainReflectance(float facing)
{
  vec3 atNormal = mix(vec3(PLAIN_F0), baseColourVS, metallicOf);
  vec3 polished = mix(atNormal, vec3(1.0), schlickRise(facing));
  vec3 rough = min(polished, vec3(PLAIN_F0) + GRAZING_GAIN * (1.0 - roughnessOf));
  return mix(polished, rough, 1.0 - metallicOf);
}

// sRGB of a sample, 0 to 1.
// normal: unit, view coordinates. position: view coordinates, mm.
vec3 shaded(vec3 normal, vec3 position)
{
  vec3 toEye = directionToEye(position);
  vec3 reflectance = plainReflectance(max(dot(normal, toEye), PLAIN_LEAST_FACING));
  vec3 shine = reflectance * blurredRadiance(reflect(-toEye, normal), roughnessOf);
  vec3 body =
    (1.0 - metallicOf) * (1.0 - reflectance) * baseColourVS * scatteredRadiance(normal);
  return displayed(shine + body);
}
