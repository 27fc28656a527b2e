// The map of rows from its three parts: scenes.packing.maps.unpacked, texel by texel.

uniform sampler2D places;  // across the row
uniform sampler2D rows;    // the second and the third channel: their changes
uniform sampler2D reach;   // the third channel: round threads, and pointers to them
layout(location = 0) out vec4 whole;

void main()
{
  ivec2 texel = ivec2(gl_FragCoord.xy);
  vec2 changes = texelFetch(rows, texel, 0).gb;
  whole = vec4(texelFetch(places, texel, 0).r, changes, texelFetch(reach, texel, 0).b);
}
