// Directions on a square.

// Place of a direction on the unfolded octahedron (Engelhardt & Dachsbacher 2008, "Octahedron
// environment maps").
// direction: y up, of any length. Returns -1 to 1.
vec2 octahedral(vec3 direction)
{
  vec3 size = abs(direction);
  vec2 place = direction.xz / (size.x + size.y + size.z);
  vec2 folded = (1.0 - abs(place.yx)) * (2.0 * step(vec2(0.0), place) - 1.0);
  return direction.y < 0.0 ? folded : place;
}
