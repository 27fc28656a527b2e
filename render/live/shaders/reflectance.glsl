// Reflectance of smooth surfaces.

// Unpolarised Fresnel reflectance of a dielectric (Born & Wolf, section 1.5.2).
// cosine: between ray and normal, either side. eta: index on the far side over that on this side.
// Returns 0 to 1; 1 where nothing passes.
float fresnelDielectric(float cosine, float eta)
{
  float near = abs(cosine);
  float farSquared = 1.0 - (1.0 - near * near) / (eta * eta);
  if (farSquared <= 0.0) return 1.0;
  float far = sqrt(farSquared);
  float perpendicular = (near - eta * far) / (near + eta * far);
  float parallel = (eta * near - far) / (eta * near + far);
  return 0.5 * (perpendicular * perpendicular + parallel * parallel);
}

// How far Fresnel reflectance has risen from F0 towards 1 (Schlick 1994, "An inexpensive BRDF model
// for physically-based rendering": the fifth power of 1 - cosine).
// cosine: between ray and normal. Returns 0 to 1.
float schlickRise(float cosine)
{
  float missing = 1.0 - clamp(cosine, 0.0, 1.0);
  float squared = missing * missing;
  return squared * squared * missing;
}
