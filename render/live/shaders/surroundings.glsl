// Light that arrives from the surroundings, and the way to the eye. Directions are unit vectors in
// view coordinates.
// Declared before this text: cameraParallel, envMatrix (view to light map), prefilterTex (the light
// map blurred for each roughness), shRed, shGreen, shBlue and ComputeSH (its spherical harmonics),
// ROUGHEST (the last level of prefilterTex).

// Direction to the eye.
// position: of the surface, view coordinates, mm.
vec3 directionToEye(vec3 position)
{
  return cameraParallel == 1 ? vec3(0.0, 0.0, 1.0) : normalize(-position);
}

// Radiance of the surroundings in a direction, blurred as a GGX lobe blurs it (Karis 2013, "Real
// shading in Unreal Engine 4": the prefiltered environment map).
// roughness: perceptual, 0 to 1. Returns linear sRGB.
vec3 blurredRadiance(vec3 direction, float roughness)
{
  return textureLod(prefilterTex, normalize(envMatrix * direction), roughness * ROUGHEST).rgb;
}

// Irradiance on a plane, over pi: what a white scatterer sends (Ramamoorthi & Hanrahan 2001, "An
// efficient representation for irradiance environment maps").
// normal: of the plane. Returns linear sRGB.
vec3 scatteredRadiance(vec3 normal)
{
  vec3 turned = envMatrix * normal;
  return vec3(ComputeSH(turned, shRed), ComputeSH(turned, shGreen), ComputeSH(turned, shBlue));
}
