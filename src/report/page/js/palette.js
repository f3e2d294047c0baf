// Colours by value, and how figures are written.

// The colour at a share of the scale, by the stops of risk: red, green and blue from 0 to 1.
function colourAt(stops, share) {
  const x = clamp(Number.isFinite(share) ? share : 0, 0, 1);
  for (let k = 1; k < stops.length; k++) {
    const [low, from] = stops[k - 1], [high, to] = stops[k];
    if (x <= high) return from.map((c, i) => mix(c, to[i], (x - low) / (high - low)));
  }
  return stops[stops.length - 1][1];
}

const cssColour = (c) => `rgb(${c.map((x) => Math.round(255 * x)).join(" ")})`;

function paletteBytes(stops, count) {
  const bytes = new Uint8Array(4 * count);
  for (let k = 0; k < count; k++) {
    colourAt(stops, k / (count - 1)).forEach((c, i) => { bytes[4 * k + i] = Math.round(255 * c); });
    bytes[4 * k + 3] = 255;
  }
  return bytes;
}

// A figure in three to four digits; "undefined" is said in words.
function written(value, unit = "") {
  if (value === null || value === undefined || !Number.isFinite(value)) return "undefined";
  const size = Math.abs(value);
  let text;
  if (size === 0) text = "0";
  else if (size >= 1e5 || size < 1e-3) text = value.toExponential(2);
  else text = String(Number(value.toPrecision(size >= 1000 ? 5 : 3)));
  text = text.replace("-", "−");
  return unit ? `${text} ${unit === "degrees" ? "deg" : unit}` : text;
}

const BANDS = [[0.75, "severe"], [0.5, "fault"], [0.25, "watch"], [0, "clean"]];
const bandOf = (risk) => BANDS.find(([from]) => risk >= from)?.[1] ?? "clean";
// A risk to two places, rounded down, so that none reads as of the band above its own.
function writtenRisk(risk) {
  const known = risk ?? 0;
  return `${(Math.floor(known * 100 + 1e-6) / 100).toFixed(2)} ${bandOf(known)}`;
}

const counted = (count, one, many) => `${count.toLocaleString("en")} ${count === 1 ? one : many}`;

// An element with plain text in it; text never becomes markup.
function element(name, text, attributes = {}) {
  const made = document.createElement(name);
  if (text !== undefined && text !== null) made.textContent = text;
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  return made;
}

const byId = (id) => document.getElementById(id);
