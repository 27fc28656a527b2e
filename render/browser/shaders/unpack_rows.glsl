// The map of rows from its two pictures: scenes.packing.maps.unpacked, texel by texel.

uniform sampler2D rows;   // place across the row, its changes
uniform sampler2D reach;  // the third channel: round threads, and pointers to them
layout(location = 0) out vec4 whole;

void main()
{
  ivec2 texel = ivec2(gl_FragCoord.xy);
  whole = vec4(texelFetch(rows, texel, 0).rgb, texelFetch(reach, texel, 0).b);
}
