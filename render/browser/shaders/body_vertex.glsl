// Every body: from its own frame to the picture.

in vec3 position;    // mm
in vec3 normal;      // unit
in vec2 tcoord;      // place on the maps, 0 to 1
in vec3 baseColour;  // linear
in vec2 tile;        // place on the ground, along the rod and along the card, tiles
uniform mat4 modelView;
uniform mat4 projection;
out vec3 normalIn;
out vec4 vertexVC;
out vec2 tcoordVCVSOutput;
out vec3 axisVS;
centroid out vec3 coveredVS;
out vec3 baseColourVS;
out vec2 groundPlace;

// modelView neither stretches nor shears, so it turns normals too.
void main()
{
  mat3 turned = mat3(modelView);
  vertexVC = modelView * vec4(position, 1.0);
  normalIn = turned * normal;
  coveredVS = normalIn;
  axisVS = turned * vec3(0.0, 0.0, 1.0);
  tcoordVCVSOutput = tcoord;
  baseColourVS = baseColour;
  groundPlace = tile;
  gl_Position = projection * vertexVC;
}
