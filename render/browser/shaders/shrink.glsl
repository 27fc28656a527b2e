// A picture from what was drawn: as it is, or from one twice as wide and high the mean of 2 x 2, as
// render/live/live.py takes it. A copy that filters need not round, and dark cards would grow darker.

uniform sampler2D fine;
uniform int finer;    // 1 or 2
uniform vec2 corner;  // of the picture on the canvas, pixels

// An eighth of a byte: the mean of four bytes ends in quarters, and halves are rounded up.
const float UPWARDS = 0.125 / 255.0;

layout(location = 0) out vec4 colour;

// Rounded to bytes as it is written.
void main()
{
  ivec2 first = finer * ivec2(gl_FragCoord.xy - corner);
  if (finer == 1) {
    colour = texelFetch(fine, first, 0);
    return;
  }
  vec4 under = texelFetch(fine, first, 0) + texelFetch(fine, first + ivec2(1, 0), 0);
  vec4 over = texelFetch(fine, first + ivec2(0, 1), 0) + texelFetch(fine, first + ivec2(1, 1), 0);
  colour = 0.5 * 0.5 * (under + over) + UPWARDS;
}
