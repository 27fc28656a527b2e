in vec3 baseColourVS;  // light sent to any eye, linear
