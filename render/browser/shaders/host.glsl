// What the shading of render/live reads, as WebGL2 gives it: the names are those that VTK's own text
// and render/live/live.py give there.

in vec3 normalIn;
in vec4 vertexVC;
in vec2 tcoordVCVSOutput;
uniform int cameraParallel, preview, taps;
uniform mat3 lightFromView;
uniform sampler2D lightMap;
uniform sampler2D bodyMap, cardMap, groundMap, mirrorMap, outsideMap, rowsMap, slopesMap, threadMap;
uniform vec2 mapSize, mapsPerMm;
uniform vec3 groundDark, groundLight;
uniform float cardBelow, finishIor, metallicOf, roughnessOf, samplesAcross;
const vec2 pictureCorner = vec2(0.0);
out vec4 fragOutput0;
