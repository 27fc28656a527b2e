  {
    // The mesh gives the radial and hoop directions, the maps how the surfaces lean from them.
    vec3 axis = normalize(axisVS);
    vec3 hoop = normalize(cross(axis, normalVCVSOutput));
    vec3 radial = cross(hoop, axis);
    vec3 toEye = cameraParallel == 1 ? vec3(0.0, 0.0, 1.0) : normalize(-vertexVC.xyz);
    // How much of the maps this sample covers, and which of their halvings shows that: asked once,
    // since the place itself is moved about.
    vec2 perX = dFdx(tcoordVCVSOutput) * mapSize;
    vec2 perY = dFdy(tcoordVCVSOutput) * mapSize;
    vec2 texels = abs(perX) + abs(perY);
    float level = 0.5 * log2(max(max(dot(perX, perX), dot(perY, perY)), 1.0));
    vec4 coat = texture(outsideMap, tcoordVCVSOutput);
    vec3 outside = normalize(radial - coat.x * hoop - coat.y * axis);
    // On the outline a sample's middle may lie beside the triangle that it shows, and what the
    // triangle is led on to there has turned far away. Where it turns by more than a third of what
    // it faces the eye with, the direction counts at a place that it covers.
    vec3 covered = normalize(coveredVS);
    covered = normalize(covered - coat.x * normalize(cross(axis, covered)) - coat.y * axis);
    if (dot(covered, toEye) < 3.0 * fwidth(dot(outside, toEye))) outside = covered;
    outside = normalize(outside + max(0.02 - dot(outside, toEye), 0.0) * toEye);
    vec2 spot = tcoordVCVSOutput;
    if (finishIor > 1.0) {
      // What is seen lies where the refracted ray comes down, not straight below.
      vec3 down = refract(-toEye, outside, 1.0 / finishIor);
      vec2 run = vec2(dot(down, hoop), dot(down, axis)) / max(-dot(down, radial), 0.25) * mapsPerMm;
      spot += run * textureLod(outsideMap, spot + run * coat.z, level).z;
    }
    // A halving is mixed from twice the width of a sample: where a pixel has several, a finer one will
    // do, and keeps the two slopes of a ridge apart. A hasty one stands alone: the ends of threads
    // would flash from frame to frame.
    float finer = hasty == 1 ? -0.3 : log2(samplesAcross);
    vec4 form = textureLod(formMap, spot, max(level - finer, 0.0));
    vec4 manner = textureLod(mannerMap, spot, level);
    float rough = manner.x;
    float reach = max(manner.z, 0.01);
    // Both already times the share of the surroundings that reaches each place.
    vec4 mirror = textureLod(mirrorMap, spot, level);
    vec3 body = textureLod(bodyMap, spot, level).rgb;
    // What the finish throws back comes down again some way off, on whatever threads lie there.
    vec3 beyond = vec3(0.0);
    float pales = 0.0;
    if (finishIor > 1.0) {
      float away = log2(max(THROWN * coat.z * mapsPerMm.y * mapSize.y, 1.0));
      vec4 around = textureLod(mirrorMap, spot, max(level, away));
      beyond = around.rgb / max(textureLod(mannerMap, spot, max(level, away)).z, 0.01);
      pales = 1.0 - around.a;
    }
    vec3 n = normalize(radial - form.x * hoop - form.y * axis);
    float lay = (manner.w - 0.5) * PI;
    vec3 along = cos(lay) * hoop + sin(lay) * axis;
    along = normalize(along - dot(along, n) * n);
    vec3 across = cross(n, along);
    // Slopes that this pixel averages away widen the lobe instead: alpha² gains twice their variance
    // (Olano & Baker 2010, "LEAN mapping"), here the mean of both directions, in GGX's longer tails
    // (common.glsl). Between two texels that a pixel does not fill there is nothing to average, unless
    // it has one hasty sample.
    float variance = max(form.z - dot(form.xy, form.xy), 0.0);
    variance = min(variance, (hasty == 1 ? 0.1 : 0.003) * dot(texels, texels));
    // Refraction on the way out spreads the film's own lobe by the index (Snell, differentiated).
    float spread = finishIor > 1.0 ? finishIor * finishIor : 1.0;

    // Through the finish on the way out: Snell, and what the outside keeps for its own shine.
    vec3 eye = toEye;
    float passes = 1.0;
    vec3 gloss = vec3(0.0);
    if (finishIor > 1.0) {
      float f = fresnelDielectric(dot(outside, toEye), finishIor);
      passes = 1.0 - f;
      // Where the outside bends within a sample its mirror blurs: evenly over the bend, whose
      // variance is a twelfth of its square. A wider lobe would be calmer, but its tails pick up a
      // small lamp from places that do not mirror it.
      vec3 bendX = dFdx(outside);
      vec3 bendY = dFdy(outside);
      float bent = min(SAME_CONE / 12.0 * (dot(bendX, bendX) + dot(bendY, bendY)), 0.18);
      gloss = f * surrounding(reflect(-toEye, outside), sqrt(sqrt(1e-6 + bent)));
      eye = -refract(-toEye, outside, 1.0 / finishIor);
    }

    // Rows: average the reflection over the part of the row pattern that this pixel sees. A whole
    // row or more under the pixel is the full distribution of normals, so nothing jumps or shimmers
    // as rows shrink; close up the part shrinks to a point and the row itself is drawn. A few points
    // a row cannot be mixed: the nearest says how rows run on from it.
    ivec2 points = textureSize(rowsMap, 0);
    vec2 spotAt = spot * vec2(points);
    vec2 nearest = floor(spotAt);
    ivec2 texel = ivec2(int(nearest.x) - points.x * int(floor(nearest.x / float(points.x))),
                        clamp(int(nearest.y), 0, points.y - 1));
    vec3 rows = texelFetch(rowsMap, texel, 0).xyz * 255.0;
    vec2 onward = (rows.zy - 128.0) / ROW_STEPS;
    float phase = (rows.x + 0.5) / 256.0 + dot(spotAt - nearest - 0.5, onward);
    // A little more than the pixel sees, or rows would flicker (render.steadiness measures it).
    float seenRows = abs(dot(perX, onward)) + abs(dot(perY, onward));
    seenRows = clamp(1.3 * samplesAcross * seenRows, 0.02, 1.0);
    // Taps lie on the row and stay there, each for the normals half-way to its neighbours; what
    // moves with the pixel is how much of each it sees. The fewer rows are seen the denser they lie.
    // Between them a small lamp would be missed, or met too often: the four samples of a block put
    // theirs between one another's (interleaved sampling, Keller & Heidrich 2001).
    float span = exp2(min(ceil(log2(seenRows * (1.0 + 1.0 / float(taps)))), 0.0));
    float pitch = span / float(taps);
    ivec2 odd = ivec2(gl_FragCoord.xy) & 1;
    float shift = 0.25 * float(2 * (odd.x ^ odd.y) + odd.y) - 0.375;
    float first = floor((phase - 0.5 * span) / pitch + 0.5 - shift);
    float apart = 0.25 * 2.0 * manner.y * pitch;
    variance = SAME_CONE * (variance + apart * apart / 6.0);
    rough = sqrt(sqrt(min(spread * (pow(rough, 4.0) + variance), 0.5)));
    // Seen from aside a row shows more of the flank turned to the eye: in proportion to 1 + aside y
    // from edge to edge, y = -1 to 1, and less than nothing is hidden. Of a round thread the crest
    // shows most: of y about sqrt(1 - x²), to the first order.
    float aside = manner.y * dot(across, eye) / max(dot(n, eye), 0.05);
    float tilt = clamp(aside, -1.0, 1.0);
    float unhidden = 0.5 + 0.5 / max(abs(aside), 1.0);
    float crest = manner.y * manner.y / 6.0;
    float most = min(pitch, seenRows);
    float reaches = 0.5 * (pitch + seenRows);
    vec3 sent = vec3(0.0);
    // What the outside throws back, from both flanks of a row and from one alone: they send it
    // opposite ways, and one mean direction of both would swing about where they nearly cancel.
    vec3 back = vec3(0.0);
    vec3 low = vec3(0.0);
    vec3 oneBack = vec3(0.0);
    vec3 oneLow = vec3(0.0);
    float weight = 1e-6;
    float pale = (1.0 - mirror.a) * reach;
    float dielectric = finishIor > 1.0 ? 0.002 : 0.045;
    vec3 fromBeside = 0.5 / reach * scattered(radial);
    body *= finishIor > 1.0 ? 0.91 : 0.96;
    for (int i = 0; i < taps; ++i) {
      float place = (first + float(i) + 0.5 + shift) * pitch;
      float off = abs(place - phase);
      // Of a whole row the last taps are seen at either end.
      float here = clamp(reaches - off, 0.0, most) + clamp(reaches + off - 1.0, 0.0, most);
      // The inverse of how much shows up to y: (1 + y) / 2 + tilt (y² - 1) / 4.
      float seen = fract(place);
      float root = sqrt((1.0 - tilt) * (1.0 - tilt) + 4.0 * tilt * seen);
      float y = 4.0 * seen / max(1.0 - tilt + root, 1e-6) - 1.0;
      y = tilt < 0.0 ? (1.0 + y) * unhidden - 1.0 : 1.0 - (1.0 - y) * unhidden;
      y *= 1.0 - crest * (1.0 - y * y);
      float x = y * manner.y;
      vec3 m = sqrt(1.0 - x * x) * n + x * across;
      float c = dot(m, eye);
      // Deep threads are partly covered by higher ones beside them, and round ones most: of their
      // flanks less is seen than of a row's own (measured on stripes of two heights).
      here *= step(0.0, c) * max(1.0 - x * x * x * x, 0.05);
      vec3 r = reflect(-eye, m);
      // Dye lies before the whole of the metal: it tints the reflection at every angle.
      float rise = grazing(c);
      vec3 f = pale * mix(dielectric, 1.0, rise) + mirror.rgb * (mix(METAL, 1.0, rise) / METAL);
      vec3 twice = f * f;
      // What leaves towards the thread beside it comes back once more reflected; what runs along its
      // own thread, however low, meets none.
      vec2 rises = vec2(dot(r, radial), dot(r, across));
      float open = smoothstep(-0.25, 0.3, rises.x / max(length(rises), 1e-3));
      vec3 light;
      if (finishIor > 1.0) {
        float kept = fresnelDielectric(dot(r, outside), 1.0 / finishIor);
        vec3 again = pales * mix(dielectric, 1.0, rise) + beyond * (mix(METAL, 1.0, rise) / METAL);
        vec3 thrown = here * open * kept * f * again;
        vec3 towards = kept * here * normalize(r - dot(r, outside) * outside);
        float one = step(0.0, y);
        back += thrown;
        low += towards;
        oneBack += one * thrown;
        oneLow += one * towards;
        vec3 l = refract(r, -outside, finishIor);
        light = kept < 1.0 ? (1.0 - kept) * surrounding(l, rough) : vec3(0.0);
      } else {
        light = surrounding(r, rough);
      }
      // The cleft between two round threads is dark.
      float lit = 1.0 - 0.7 * manner.y * manner.y * pow(abs(y), 6.0);
      sent += here * lit * (mix(twice * fromBeside, f * light, open) + body * scattered(m));
      weight += here;
    }
    // What the outside throws back runs on under it until the round of some row turns it out, at a
    // low angle and much blurred (path-traced pictures of the samples were the measure).
    if (finishIor > 1.0) {
      vec3 leaves = normalize(low - oneLow + 1e-4 * outside) + 0.4 * outside;
      vec3 turnedOut = (back - oneBack) * surrounding(leaves, 0.35);
      leaves = normalize(oneLow + 1e-4 * outside) + 0.4 * outside;
      turnedOut += oneBack * surrounding(leaves, 0.35);
      sent += turnedOut * 0.35 / (1.0 - (1.0 - 0.35) * beyond);
    }
    fragOutput0 = vec4(display(passes * sent / weight + gloss), 1.0);
  }
