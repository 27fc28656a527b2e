// The card as the rod sees it, before the light: scenes.stage.backdrop.surroundings.

uniform sampler2D cardSeen;   // for angles round the rod: distance from the axis, point of the card
uniform sampler2D cardLight;  // radiance of each point, in columns along the rod
uniform vec2 cardAngles;      // the first angle and the last, from the front and down, rad
uniform float cardReach;      // half the width of the card, mm

const float TURN = 6.28318530718;

// Keeps the place on the card defined for a direction along the rod.
const float LEAST_ACROSS = 1e-9;

// Radiance of the card, and 1 where it covers the light behind it; 0 elsewhere.
// direction: of the stage, unit.
vec4 cardRadiance(vec3 direction)
{
  float angle = atan(-direction.y, direction.z);
  if (angle < cardAngles.x) angle += TURN;
  float column = (angle - cardAngles.x) / (cardAngles.y - cardAngles.x);
  if (column < 0.0 || column > 1.0) return vec4(0.0);
  int last = textureSize(cardSeen, 0).x - 1;
  float place = column * float(last);
  int left = min(int(place), last - 1);
  vec2 found = mix(
    texelFetch(cardSeen, ivec2(left, 0), 0).xy,
    texelFetch(cardSeen, ivec2(left + 1, 0), 0).xy,
    place - float(left));
  float x = found.x * direction.x / max(length(direction.yz), LEAST_ACROSS);
  if (abs(x) > cardReach) return vec4(0.0);
  int point = int(found.y);
  // As the middle of the wrap sees it.
  int middle = textureSize(cardLight, 0).x / 2;
  vec3 light = mix(
    texelFetch(cardLight, ivec2(middle, point), 0).rgb,
    texelFetch(cardLight, ivec2(middle, point + 1), 0).rgb,
    fract(found.y));
  return vec4(light, 1.0);
}
