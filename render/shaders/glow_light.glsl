  fragOutput0 = vec4(display(baseColourVS), 1.0);
