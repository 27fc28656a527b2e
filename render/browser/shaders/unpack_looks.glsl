// Colours and properties of thread from numbers of looks: scenes.packing.maps.unpacked, texel by texel.

uniform sampler2D threads;      // number of the look, of the one beside it, share of that
uniform sampler2D threadsHigh;  // upper bytes of the numbers
uniform sampler2D reach;        // visibility, thread direction, whether it is a tube: the upper half
uniform sampler2D table;        // a column for each look; rows: mirror, body, thread
uniform int wide;               // 1 where there are upper bytes
uniform float tubeRounding;     // of a tube, 0 to 1
layout(location = 0) out vec4 mirror;
layout(location = 1) out vec4 body;
layout(location = 2) out vec4 thread;

// Bytes are read as 0 to 1.
const float BYTE = 255.0;
const float UPPER = 256.0;

// A byte of a flag counts as set above its middle.
const float SET = 0.5;

// A row of the table for a look.
vec4 look(float number, int row)
{
  return texelFetch(table, ivec2(int(number + 0.5), row), 0);
}

// What is added up over four texels.
struct Look {
  vec4 mirror;
  vec4 body;
  vec4 thread;
};

// The look of one texel. What scatters is times visibility, and roughness times the share of what has it,
// metal or the rest: a pixel that covers deep threads beside high ones, or metal beside dull thread,
// averages the product.
Look lookAt(ivec2 texel)
{
  vec3 packed = texelFetch(threads, texel, 0).rgb;
  vec2 number = BYTE * packed.xy;
  if (wide == 1) number += UPPER * BYTE * texelFetch(threadsHigh, texel, 0).xy;
  vec3 reached = texelFetch(reach, texel, 0).rgb;
  vec4 mirrored = mix(look(number.x, 0), look(number.y, 0), packed.z);
  vec4 scattered = mix(look(number.x, 1), look(number.y, 1), packed.z);
  vec2 own = look(number.x, 2).xy;
  float rounding = reached.z > SET ? tubeRounding : own.y;
  return Look(
    mirrored,
    vec4(scattered.rgb * reached.x, own.x * (1.0 - mirrored.a)),
    vec4(own.x * mirrored.a, rounding, reached.x, reached.y));
}

// The mean of the four texels about the fragment.
void main()
{
  Between four = placeBetween(textureSize(threads, 0));
  mirror = body = thread = vec4(0.0);
  for (int i = 0; i < 2 + 2; ++i) {
    ivec2 way = ivec2(i & 1, i >> 1);
    Look one = lookAt(texelOf(four, way));
    float share = shareOf(four, way);
    mirror += share * one.mirror;
    body += share * one.body;
    thread += share * one.thread;
  }
}
