// Light that arrives from the surroundings, and the way to the eye. Directions are unit vectors in
// view coordinates.
// Declared before this text: octahedral.glsl, cameraParallel, lightFromView (rotation from view
// coordinates to those of the light), lightMap (the maps of scenes/light/prefilter.py, one above the
// other: LIGHT_LEVELS roughnesses, then LIGHT_IN_AIR and LIGHT_IN_FINISH; LIGHT_SIDE texels a side
// and a border of one), cardBelow (distance from the rod's axis down to the card, mm).

// From the rod's axis to the surface, in the light's coordinates, mm. Bodies that know it set it.
vec3 fromAxis = vec3(0.0);

// The least height of a surface over the card, mm.
const float LEAST_HEIGHT = 1.0;

// Direction to the eye.
// position: of the surface, view coordinates, mm.
vec3 directionToEye(vec3 position)
{
  return cameraParallel == 1 ? vec3(0.0, 0.0, 1.0) : normalize(-position);
}

// Direction from the rod's axis to where a ray from the surface meets the card, if it runs down to it.
// The maps hold what the axis sees; the lights are far, but the card is near (Lagarde & Zanuttini 2012,
// "Local image-based lighting with parallax-corrected cubemaps").
// direction: the light's coordinates, of any length.
vec3 seenFromAxis(vec3 direction)
{
  return direction + fromAxis * max(-direction.y, 0.0) / max(cardBelow + fromAxis.y, LEAST_HEIGHT);
}

// Place of a direction in each of the light's maps, texels from the corner of its border.
// direction: view coordinates, of any length.
vec2 lightTexel(vec3 direction)
{
  vec2 place = octahedral(seenFromAxis(lightFromView * direction));
  return (0.5 * place + 0.5) * LIGHT_SIDE + 1.0;
}

// Radiance of one of the light's maps.
// map: its number, whole.
vec3 mapRadiance(vec2 texel, float map)
{
  vec2 size = (LIGHT_SIDE + 2.0) * vec2(1.0, LIGHT_IN_FINISH + 1.0);
  return textureLod(lightMap, (texel + vec2(0.0, map * (LIGHT_SIDE + 2.0))) / size, 0.0).rgb;
}

// Radiance of the surroundings in a direction, blurred as a GGX lobe blurs it (Karis 2013, "Real
// shading in Unreal Engine 4": the prefiltered environment map).
// direction: of any length. roughness: perceptual, 0 to 1. Returns linear sRGB.
vec3 blurredRadiance(vec3 direction, float roughness)
{
  vec2 texel = lightTexel(direction);
  float level = clamp(roughness, 0.0, 1.0) * (LIGHT_LEVELS - 1.0);
  float lower = min(floor(level), LIGHT_LEVELS - 2.0);
  return mix(mapRadiance(texel, lower), mapRadiance(texel, lower + 1.0), level - lower);
}

// What a white scatterer sends: the irradiance that enters it, over pi and over the share of even light
// that enters.
// normal: of the scatterer. map: LIGHT_IN_AIR or LIGHT_IN_FINISH. Returns linear sRGB.
vec3 scatteredRadiance(vec3 normal, float map)
{
  return mapRadiance(lightTexel(normal), map);
}
