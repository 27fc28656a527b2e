// One triangle that covers the whole target.

// The corners (-1, -1), (3, -1) and (-1, 3).
void main()
{
  vec2 corner = vec2(gl_VertexID & 1, gl_VertexID >> 1);
  gl_Position = vec4(2.0 * 2.0 * corner - 1.0, 0.0, 1.0);
}
