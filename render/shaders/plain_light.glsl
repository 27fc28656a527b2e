  {
    vec3 n = normalVCVSOutput;
    vec3 eye = cameraParallel == 1 ? vec3(0.0, 0.0, 1.0) : normalize(-vertexVC.xyz);
    float c = max(dot(n, eye), 0.02);
    vec3 f = mix(mix(vec3(0.04), baseColourVS, metallicOf), vec3(1.0), grazing(c));
    // Rough dielectrics lose the grazing shine (Schlick's F90 falls with roughness).
    f = mix(f, min(f, vec3(0.04) + 0.3 * (1.0 - roughnessOf)), 1.0 - metallicOf);
    vec3 shine = f * surrounding(reflect(-eye, n), roughnessOf);
    vec3 body = (1.0 - metallicOf) * (1.0 - f) * baseColourVS * scattered(n);
    fragOutput0 = vec4(display(shine + body), 1.0);
  }
