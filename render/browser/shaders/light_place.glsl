// Directions of the texels of an octahedral map. Declared before this text: octahedral.glsl.

// Direction of a place on the unfolded octahedron: the inverse of octahedral().
// place: -1 to 1; beyond an edge the map goes on upside down, mirrored at the edge's middle.
vec3 directionAt(vec2 place)
{
  vec2 beyond = step(1.0, abs(place));
  place = mix(place, 2.0 * sign(place) - place, beyond) * (1.0 - 2.0 * beyond.yx);
  vec3 direction = vec3(place.x, 1.0 - abs(place.x) - abs(place.y), place.y);
  vec2 unfolded = (1.0 - abs(place.yx)) * (2.0 * step(vec2(0.0), place) - 1.0);
  if (direction.y < 0.0) direction.xz = unfolded;
  return normalize(direction);
}
