in vec3 axisVS;        // along the blank, butt to tip

const int TAPS = 9;    // normals tried across a row; the roughness covers their spacing
