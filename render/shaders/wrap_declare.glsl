in vec3 axisVS;              // along the blank, butt to tip
centroid in vec3 coveredVS;  // the radial direction at a place that the triangle covers

// What is wholly reflected inside the finish comes down two thicknesses times the tangent of its
// angle away: 1.8 thicknesses at the critical angle of 42 degrees, more beyond.
const float THROWN = 3.0;
