// Shared by everything that is shaded.

// Unpolarised Fresnel reflectance of a dielectric (Born & Wolf, section 1.5.2);
// eta is the index on the far side over the one on this side.
float fresnelDielectric(float cosine, float eta)
{
  float c = abs(cosine);
  float t2 = 1.0 - (1.0 - c * c) / (eta * eta);
  if (t2 <= 0.0) return 1.0;
  float t = sqrt(t2);
  float s = (c - eta * t) / (c + eta * t);
  float p = (eta * c - t) / (eta * c + t);
  return 0.5 * (s * s + p * p);
}

// How far Fresnel reflectance has risen from F0 towards 1 (Schlick 1994).
float grazing(float cosine)
{
  float m = 1.0 - clamp(cosine, 0.0, 1.0);
  float m2 = m * m;
  return m2 * m2 * m;
}

// Slopes of a Gaussian within s of the mean: 1 - exp(-s²/a²); of GGX: s²/(s² + b²). For the same cone
// to hold three quarters of both, b² is 2 ln 2 / 3 of a² (slope distributions in Heitz 2014).
const float SAME_CONE = 0.462;

// Light from a direction, blurred as a GGX lobe of this roughness blurs it.
vec3 surrounding(vec3 directionVC, float roughness)
{
  return textureLod(prefilterTex, normalize(envMatrix * directionVC), roughness * ROUGHEST).rgb;
}

// Irradiance over pi.
vec3 scattered(vec3 normalVC)
{
  vec3 n = envMatrix * normalVC;
  return vec3(ComputeSH(n, shRed), ComputeSH(n, shGreen), ComputeSH(n, shBlue));
}

// The curve of scenes/tone.py, then the sRGB encoding (IEC 61966-2-1).
vec3 display(vec3 radiance)
{
  vec3 x = clamp(radiance * EXPOSURE, 0.0, WHITE);
  float room = 1.0 - LINEAR_TO;
  vec3 t = (x - LINEAR_TO) / room;
  float white = (WHITE - LINEAR_TO) / room;
  vec3 shoulder = LINEAR_TO + room * t * (1.0 + t / (white * white)) / (1.0 + abs(t));
  x = mix(x, shoulder, step(vec3(LINEAR_TO), x));
  return mix(12.92 * x, 1.055 * pow(max(x, 1e-6), vec3(1.0 / 2.4)) - 0.055,
             step(vec3(0.0031308), x));
}
