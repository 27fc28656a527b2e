  {
    // Half a step of noise, fixed to the picture, keeps wide dark gradients from banding.
    float noise = fract(52.9829189 * fract(dot(gl_FragCoord.xy, vec2(0.06711056, 0.00583715))));
    fragOutput0 = vec4(display(baseColourVS) + (noise - 0.5) / 255.0, 1.0);
  }
