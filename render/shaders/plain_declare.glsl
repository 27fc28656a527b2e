in vec3 baseColourVS;  // linear; F0 of a metal, else the body's colour
