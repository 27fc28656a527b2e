// Families of colour in which the eye looks for a thread, by lightness, chroma and hue in Oklab
// (Ottosson 2020, "A perceptual color space for image processing").
(() => {
  const NEUTRAL = 0.035; // chroma below which no hue is seen
  const FAMILIES = [
    { name: "white", colour: "#f4f4f2", has: ({ chroma, light }) => chroma < NEUTRAL && light >= 0.85 },
    { name: "grey", colour: "#8d9298", has: ({ chroma, light }) => chroma < NEUTRAL && light >= 0.4 && light < 0.85 },
    { name: "black", colour: "#1b1a1c", has: ({ chroma, light }) => chroma < NEUTRAL && light < 0.4 },
    { name: "red", colour: "#c8252f", hue: [5, 38] },
    { name: "brown", colour: "#6b4528", hue: [38, 112], pale: true },
    { name: "orange", colour: "#e27a1e", hue: [38, 75], pale: false },
    { name: "yellow", colour: "#eebf3c", hue: [75, 112], pale: false },
    { name: "green", colour: "#2f9e4a", hue: [112, 168] },
    { name: "teal", colour: "#14b8ae", hue: [168, 215] },
    { name: "blue", colour: "#2f6fd8", hue: [215, 285] },
    { name: "violet", colour: "#8048c0", hue: [285, 340] },
    { name: "pink", colour: "#ea5f9c", hue: [340, 365] },
  ];

  /** Lightness, chroma and hue (degrees) of a colour such as "#1f7fe8". */
  function oklch(colour) {
    const [r, g, b] = [1, 3, 5].map((at) => {
      const value = parseInt(colour.slice(at, at + 2), 16) / 255;
      return value <= 0.04045 ? value / 12.92 : ((value + 0.055) / 1.055) ** 2.4;
    });
    const l = Math.cbrt(0.4122214708 * r + 0.5363325363 * g + 0.0514459929 * b);
    const m = Math.cbrt(0.2119034982 * r + 0.6806995451 * g + 0.1073969566 * b);
    const s = Math.cbrt(0.0883024619 * r + 0.2817188376 * g + 0.6299787005 * b);
    const green = 1.9779984951 * l - 2.428592205 * m + 0.4505937099 * s;
    const yellow = 0.0259040371 * l + 0.7827717662 * m - 0.808675766 * s;
    return {
      light: 0.2104542553 * l + 0.793617785 * m - 0.0040720468 * s,
      chroma: Math.hypot(green, yellow),
      hue: ((Math.atan2(yellow, green) * 180) / Math.PI + 360) % 360,
    };
  }

  /** Name of the family of a colour; empty for what is no colour. */
  function familyOf(colour) {
    if (!/^#[0-9a-fA-F]{6}$/.test(colour)) return "";
    const seen = oklch(colour);
    const pale = seen.chroma < 0.09 || seen.light < 0.55; // orange and yellow that are seen as brown
    const found = FAMILIES.find((family) => {
      if (family.has) return family.has(seen);
      if (seen.chroma < NEUTRAL) return false;
      const hue = seen.hue < 5 ? seen.hue + 360 : seen.hue;
      return hue >= family.hue[0] && hue < family.hue[1] && (family.pale ?? pale) === pale;
    });
    return found ? found.name : "";
  }

  window.turnlight_hues = { FAMILIES, familyOf };
})();
