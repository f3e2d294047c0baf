// From where a place is looked at: aslant, with nothing in between.

// Angles between a place's normal and the direction to the eye, in degrees, and what a view so
// aslant counts.
const TILTS = [[22, 1], [45, 0.85], [65, 0.6]];
const AZIMUTHS = 8;

// What a view from the inner side counts: it is taken only where the outer side is walled in.
const FROM_INSIDE = 0.3;

// Vertices of a place that are asked whether they can be seen; the peak counts as much as several.
const WITNESSES_MAX = 12;
const PEAK_COUNTS = 3;

// Cosine of the angle between normal and eye from which on a vertex counts as well seen.
const WELL_FACING = 0.35;

class Sight {
  constructor(view, cage) {
    this.view = view;
    const limit = view.form("limit");
    this.points = Array.from({ length: cage.vertexCount }, (_, v) => limit.point(v));
    this.normals = this.points.map((_, v) => times(limit.normal(v) ?? [0, 0, 0], view.insideOut ? -1 : 1));
    this.triangles = new Unrefined(cage).triangles();
  }

  // The direction from `centre` to the eye, `distance` away, that shows most of some vertices, the
  // first of them foremost; `seen` tells whether any shows them at all. `edge`, the length of an
  // edge, tells what is a vertex's own surface.
  towards({ vertices, centre, normal, distance, edge }) {
    const witnesses = vertices.filter((_, k) => k % Math.ceil(vertices.length / WITNESSES_MAX) === 0);
    const obstacles = this.near(centre, distance);
    let best = 0, found = unit(normal);
    for (const [direction, worth, side] of this.directions(normal)) {
      const eye = add(centre, times(direction, distance));
      let sum = 0;
      witnesses.forEach((w, k) => {
        const ray = this.view.camera.parallel ? times(direction, distance) : minus(eye, this.points[w]);
        const well = clamp((side * dot(this.normals[w], ray)) / length(ray) / WELL_FACING, 0, 1);
        if (well > 0 && !this.hidden(w, ray, (0.3 * edge) / length(ray), obstacles)) sum += well * (k ? 1 : PEAK_COUNTS);
      });
      if (worth * sum > best) [best, found] = [worth * sum, direction];
      // Nothing can count more.
      if (worth === 1 && sum >= witnesses.length - 1 + PEAK_COUNTS) break;
    }
    return { direction: found, seen: best > 0 };
  }

  // Directions to try, the most wanted first; what each counts; 1 for the outer side, -1 for the inner.
  directions(normal) {
    const [right, up] = this.view.camera.axes;
    const n = unit(normal), across = unit(cross(Math.abs(dot(up, n)) < 0.9 ? up : right, n));
    const above = cross(n, across), out = [];
    for (const side of [1, -1]) {
      for (const [tilt, worth] of TILTS) {
        for (let k = 0; k < AZIMUTHS; k++) {
          // First from above and to the right.
          const turn = (2 * Math.PI * k) / AZIMUTHS + 30 * DEGREE;
          const aside = add(times(across, Math.cos(turn)), times(above, Math.sin(turn)));
          const direction = add(times(n, side * Math.cos(tilt * DEGREE)), times(aside, Math.sin(tilt * DEGREE)));
          out.push([direction, side > 0 ? worth : worth * FROM_INSIDE, side]);
        }
      }
    }
    return out;
  }

  // Triangles, by their first corner, that reach into a ball.
  near(centre, distance) {
    const out = [], { points, triangles } = this;
    for (let k = 0; k < triangles.length; k += 3) {
      const [a, b, c] = [0, 1, 2].map((i) => points[triangles[k + i]]);
      const size = Math.max(length(minus(a, b)), length(minus(a, c)));
      if (this.view.camera.parallel || length(minus(a, centre)) <= 1.5 * distance + size) out.push(k);
    }
    return out;
  }

  // Whether a triangle hides vertex w along a ray from it, from a share `from` of the ray on
  // (Möller and Trumbore, Fast, minimum storage ray/triangle intersection, 1997).
  hidden(w, ray, from, obstacles) {
    const { points, triangles } = this, origin = points[w];
    const to = this.view.camera.parallel ? Infinity : 1;
    return obstacles.some((k) => {
      const [i, j, l] = [triangles[k], triangles[k + 1], triangles[k + 2]];
      if (i === w || j === w || l === w) return false;
      const u = minus(points[j], points[i]), v = minus(points[l], points[i]);
      const p = cross(ray, v), whole = dot(u, p);
      if (Math.abs(whole) < 1e-300) return false;
      const s = minus(origin, points[i]), x = dot(s, p) / whole;
      if (x < 0 || x > 1) return false;
      const q = cross(s, u), y = dot(ray, q) / whole, t = dot(v, q) / whole;
      return y >= 0 && x + y <= 1 && t > from && t < to;
    });
  }
}
