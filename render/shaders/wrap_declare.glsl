in vec3 axisVS;        // along the blank, butt to tip
