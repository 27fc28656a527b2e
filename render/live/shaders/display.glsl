// From scene radiance to the numbers of the display.
// Declared before this text: EXPOSURE, LINEAR_TO, WHITE (scenes/light/tone.py).

// The sRGB encoding: slope near black, where it ends, then scale, exponent and offset
// (IEC 61966-2-1).
const float SRGB_SLOPE = 12.92;
const float SRGB_LINEAR_TO = 0.0031308;
const float SRGB_SCALE = 1.055;
const float SRGB_GAMMA = 2.4;
const float SRGB_OFFSET = 0.055;

// pow(0, x) need not be defined; where light is this low the slope is used anyway.
const float SRGB_LEAST = 1e-6;

// Values of one channel of a picture, less one.
const float LEVELS = 255.0;

// Interleaved gradient noise (Jimenez 2014, "Next generation post processing in Call of Duty").
const float NOISE_SCALE = 52.9829189;
const vec2 NOISE_GRADIENT = vec2(0.06711056, 0.00583715);

// The curve of scenes/light/tone.py (Reinhard et al. 2002, "Photographic tone reproduction for digital
// images", eq. 4): the identity up to LINEAR_TO, then a shoulder that reaches 1 at WHITE.
// radiance: linear sRGB, as the scene sends it. Returns linear light on the display, 0 to 1.
vec3 toneMapped(vec3 radiance)
{
  vec3 exposed = clamp(radiance * EXPOSURE, 0.0, WHITE);
  float room = 1.0 - LINEAR_TO;
  vec3 excess = (exposed - LINEAR_TO) / room;
  float white = (WHITE - LINEAR_TO) / room;
  vec3 shoulder =
    LINEAR_TO + room * excess * (1.0 + excess / (white * white)) / (1.0 + abs(excess));
  return mix(exposed, shoulder, step(vec3(LINEAR_TO), exposed));
}

// The sRGB encoding (IEC 61966-2-1).
// light: linear, 0 to 1. Returns the encoded value, 0 to 1.
vec3 srgbEncoded(vec3 light)
{
  vec3 power = SRGB_SCALE * pow(max(light, SRGB_LEAST), vec3(1.0 / SRGB_GAMMA)) - SRGB_OFFSET;
  return mix(SRGB_SLOPE * light, power, step(vec3(SRGB_LINEAR_TO), light));
}

// Scene radiance as the display shows it: the tone curve, then the encoding.
// radiance: linear sRGB. Returns sRGB, 0 to 1.
vec3 displayed(vec3 radiance)
{
  return srgbEncoded(toneMapped(radiance));
}

// Noise of up to half a level, fixed to the picture: it keeps wide dark gradients from banding.
// pixel: place in the picture, pixels. Returns -0.5 to 0.5 levels as a share of white.
float dither(vec2 pixel)
{
  float noise = fract(NOISE_SCALE * fract(dot(pixel, NOISE_GRADIENT)));
  return (noise - 0.5) / LEVELS;
}
