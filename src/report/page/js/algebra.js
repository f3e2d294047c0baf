"use strict";
// Vectors are arrays of three numbers, matrices 16 numbers column by column.

const add = (a, b) => [a[0] + b[0], a[1] + b[1], a[2] + b[2]];
const minus = (a, b) => [a[0] - b[0], a[1] - b[1], a[2] - b[2]];
const times = (a, s) => [a[0] * s, a[1] * s, a[2] * s];
const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
const cross = (a, b) => [
  a[1] * b[2] - a[2] * b[1],
  a[2] * b[0] - a[0] * b[2],
  a[0] * b[1] - a[1] * b[0],
];
const length = (a) => Math.hypot(a[0], a[1], a[2]);
const unit = (a) => times(a, 1 / (length(a) || 1));
const clamp = (x, low, high) => Math.min(Math.max(x, low), high);
const mix = (a, b, t) => a + (b - a) * t;
const at3 = (values, i) => [values[3 * i], values[3 * i + 1], values[3 * i + 2]];

function product(a, b) {
  const out = new Float32Array(16);
  for (let column = 0; column < 4; column++) {
    for (let row = 0; row < 4; row++) {
      let sum = 0;
      for (let k = 0; k < 4; k++) sum += a[4 * k + row] * b[4 * column + k];
      out[4 * column + row] = sum;
    }
  }
  return out;
}

// A point's place in clip space.
function inClip(m, p) {
  const row = (k) => m[k] * p[0] + m[4 + k] * p[1] + m[8 + k] * p[2] + m[12 + k];
  return [row(0), row(1), row(2), row(3)];
}
