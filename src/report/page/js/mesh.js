// The cage, and the vertices and faces of its refinement.
//
// Numbers are those of the program: cage vertices first, then the inner vertices of each edge in
// the direction of its ends, then those of each face: row by row in a quad; in any other face the
// centre, then the rows of each corner's quad.

class Cage {
  constructor(content) {
    this.positions = content.get("positions");
    this.sizes = content.get("face sizes");
    this.cornerVertices = content.get("corner vertices");
    this.cornerEdges = content.get("corner edges");
    this.edges = content.get("edges");
    this.edgeKinds = content.get("edge kinds");
    this.edgeSharpness = content.get("edge sharpness");
    this.vertexSharpness = content.get("vertex sharpness");
    this.vertexKinds = content.get("vertex kinds");
    // Of a half that was mirrored: which of its vertices each vertex of the whole is or mirrors.
    this.inHalf = content.sections.has("in half") ? content.get("in half") : null;
    this.vertexCount = this.vertexKinds.length;
    this.edgeCount = this.edgeKinds.length;
    this.faceCount = this.sizes.length;
    this.starts = new Uint32Array(this.faceCount + 1);
    for (let f = 0; f < this.faceCount; f++) this.starts[f + 1] = this.starts[f] + this.sizes[f];
  }

  // The file's own vertex that v is or mirrors, from 0.
  own(v) { return this.inHalf ? this.inHalf[v] : v; }

  // Number of the file's own vertices; they come first.
  get ownCount() {
    if (!this.inHalf) return this.vertexCount;
    let count = 0;
    while (count < this.vertexCount && this.inHalf[count] === count) count++;
    return count;
  }

  // Values of the file's own vertices, for all vertices.
  spreadOwn(values) { return this.inHalf ? Float32Array.from(this.inHalf, (v) => values[v]) : values; }

  // Faces at each vertex, as lists in one array: those of v from starts[v] to starts[v + 1].
  facesOfVertices() {
    if (this.vertexFaces) return this.vertexFaces;
    const starts = new Uint32Array(this.vertexCount + 1);
    for (const v of this.cornerVertices) starts[v + 1]++;
    for (let v = 0; v < this.vertexCount; v++) starts[v + 1] += starts[v];
    const faces = new Uint32Array(this.cornerVertices.length);
    const next = starts.slice();
    for (let f = 0; f < this.faceCount; f++) {
      for (let c = this.starts[f]; c < this.starts[f + 1]; c++) {
        faces[next[this.cornerVertices[c]]++] = f;
      }
    }
    this.vertexFaces = { starts, faces, of: (v) => faces.subarray(starts[v], starts[v + 1]) };
    return this.vertexFaces;
  }
}

class Numbering {
  constructor(cage, level) {
    this.cage = cage;
    this.segments = 2 ** level;
    this.firstInner = cage.vertexCount + cage.edgeCount * (this.segments - 1);
    this.inner = new Uint32Array(cage.faceCount + 1);
    this.quads = new Uint32Array(cage.faceCount + 1);
    const half = this.segments / 2;
    for (let f = 0; f < cage.faceCount; f++) {
      const n = cage.sizes[f];
      this.inner[f + 1] = this.inner[f] + 1 + n * (half - 1) * half;
      this.quads[f + 1] = this.quads[f] + n * half * half;
    }
    this.vertexCount = this.firstInner + this.inner[cage.faceCount];
    this.quadCount = this.quads[cage.faceCount];
  }

  // The vertex `step` segments along edge e, from its first end.
  onEdge(e, step) {
    if (step === 0) return this.cage.edges[2 * e];
    if (step === this.segments) return this.cage.edges[2 * e + 1];
    return this.cage.vertexCount + e * (this.segments - 1) + step - 1;
  }

  // The vertex `step` segments along the edge that leaves corner c.
  onSide(c, step) {
    const e = this.cage.cornerEdges[c];
    const forward = this.cage.edges[2 * e] === this.cage.cornerVertices[c];
    return this.onEdge(e, forward ? step : this.segments - step);
  }

  // Fills the grid of face f (of its corner `corner`, unless it is a quad), row by row.
  fillGrid(f, corner, grid) {
    const { starts, sizes } = this.cage;
    const n = sizes[f], first = starts[f], inner = this.firstInner + this.inner[f];
    const m = n === 4 ? this.segments : this.segments / 2;
    const w = m + 1;
    if (n === 4) {
      for (let k = 0; k <= m; k++) {
        grid[k] = this.onSide(first, k);
        grid[k * w + m] = this.onSide(first + 1, k);
        grid[m * w + m - k] = this.onSide(first + 2, k);
        grid[(m - k) * w] = this.onSide(first + 3, k);
      }
      for (let j = 1, v = inner; j < m; j++) for (let i = 1; i < m; i++) grid[j * w + i] = v++;
      return m;
    }
    const before = (corner + n - 1) % n;
    const row = (q, i, j) => inner + 1 + q * (m - 1) * m + (j - 1) * m + i - 1;
    for (let i = 0; i <= m; i++) grid[i] = this.onSide(first + corner, i);
    for (let j = 1; j <= m; j++) {
      grid[j * w] = this.onSide(first + before, 2 * m - j);
      for (let i = 1; i <= m; i++) {
        if (j < m) grid[j * w + i] = row(corner, i, j);
        else grid[j * w + i] = i === m ? inner : row(before, m, i);
      }
    }
    return m;
  }

  // Triangles of all quads, two each: 6 vertices to a quad. `step` 2, 4 ... joins quads to coarser
  // ones between the same vertices, down to one for each quad of level 1.
  triangles(step = 1) {
    const out = new Uint32Array((6 * this.quadCount) / (step * step));
    const grid = new Uint32Array((this.segments + 1) ** 2);
    let k = 0;
    for (let f = 0; f < this.cage.faceCount; f++) {
      const grids = this.cage.sizes[f] === 4 ? 1 : this.cage.sizes[f];
      for (let corner = 0; corner < grids; corner++) {
        const m = this.fillGrid(f, corner, grid), w = m + 1;
        const up = w * step;
        for (let j = 0; j < m; j += step) {
          for (let i = 0, g = j * w; i < m; i += step, g += step) {
            out[k] = out[k + 3] = grid[g];
            out[k + 1] = grid[g + step];
            out[k + 2] = out[k + 4] = grid[g + up + step];
            out[k + 5] = grid[g + up];
            k += 6;
          }
        }
      }
    }
    return out;
  }

  // Values of the cage's vertices on the refined vertices: pairs of the value and 1, or 0 and 0
  // where it is undefined, so that pairs can be mixed. Linear along edges and over faces.
  spread(values) {
    const out = new Float32Array(2 * this.vertexCount);
    const set = (v, value, share) => { out[2 * v] = value; out[2 * v + 1] = share; };
    for (let v = 0; v < this.cage.vertexCount; v++) {
      if (Number.isFinite(values[v])) set(v, values[v], 1);
    }
    const s = this.segments;
    for (let e = 0; e < this.cage.edgeCount; e++) {
      const a = 2 * this.cage.edges[2 * e], b = 2 * this.cage.edges[2 * e + 1];
      for (let k = 1; k < s; k++) {
        set(this.onEdge(e, k), mix(out[a], out[b], k / s), mix(out[a + 1], out[b + 1], k / s));
      }
    }
    const grid = new Uint32Array((s + 1) ** 2);
    for (let f = 0; f < this.cage.faceCount; f++) this.spreadFace(f, grid, out);
    return out;
  }

  spreadFace(f, grid, out) {
    const n = this.cage.sizes[f], first = this.cage.starts[f];
    if (n !== 4) {
      const centre = 2 * (this.firstInner + this.inner[f]);
      for (let c = first; c < first + n; c++) {
        const v = 2 * this.cage.cornerVertices[c];
        out[centre] += out[v] / n;
        out[centre + 1] += out[v + 1] / n;
      }
    }
    for (let corner = 0; corner < (n === 4 ? 1 : n); corner++) {
      const m = this.fillGrid(f, corner, grid), w = m + 1;
      const ends = [grid[0], grid[m], grid[m * w + m], grid[m * w]];
      for (let j = 1; j <= (n === 4 ? m - 1 : m); j++) {
        for (let i = 1; i <= (n === 4 ? m - 1 : m); i++) {
          if (i === m && j === m) continue;
          const x = i / m, y = j / m, v = 2 * grid[j * w + i];
          for (let k = 0; k < 2; k++) {
            const [a, b, c, d] = ends.map((end) => out[2 * end + k]);
            out[v + k] = mix(mix(a, b, x), mix(d, c, x), y);
          }
        }
      }
    }
  }
}

// The cage itself, as level 0: faces cut into triangles.
class Unrefined {
  constructor(cage) {
    this.cage = cage;
    this.segments = 1;
    this.vertexCount = cage.vertexCount;
  }

  onEdge(e, step) {
    return this.cage.edges[2 * e + step];
  }

  triangles() {
    const out = [];
    const { starts, sizes, cornerVertices } = this.cage;
    for (let f = 0; f < this.cage.faceCount; f++) {
      const face = cornerVertices.subarray(starts[f], starts[f] + sizes[f]);
      if (face.length <= 4) {
        for (let k = 1; k + 1 < face.length; k++) out.push(face[0], face[k], face[k + 1]);
      } else cutPolygon(face, this.cage.positions, out);
    }
    return Uint32Array.from(out);
  }

  spread(values) {
    const out = new Float32Array(2 * this.vertexCount);
    for (let v = 0; v < this.vertexCount; v++) {
      if (Number.isFinite(values[v])) { out[2 * v] = values[v]; out[2 * v + 1] = 1; }
    }
    return out;
  }
}

// Sides up to which a polygon is cut ear by ear; larger ones, which take too long, become fans.
const EAR_SIDES_MAX = 200;

// Cuts a polygon into triangles, ear by ear, seen along its area vector.
function cutPolygon(face, positions, out) {
  const points = Array.from(face, (v) => at3(positions, v));
  let area = [0, 0, 0];
  for (let k = 1; k + 1 < points.length; k++) {
    area = add(area, cross(minus(points[k], points[0]), minus(points[k + 1], points[0])));
  }
  const turn = (a, b, c) => dot(area, cross(minus(points[b], points[a]), minus(points[c], points[a])));
  const left = Array.from(face.keys());
  while (left.length > 3 && left.length <= EAR_SIDES_MAX) {
    const ear = left.findIndex((b, k) => {
      const a = left[(k + left.length - 1) % left.length], c = left[(k + 1) % left.length];
      const inside = (p) => p !== a && p !== b && p !== c &&
        turn(a, b, p) >= 0 && turn(b, c, p) >= 0 && turn(c, a, p) >= 0;
      return turn(a, b, c) > 0 && !left.some(inside);
    });
    if (ear < 0) break;
    const a = left[(ear + left.length - 1) % left.length], c = left[(ear + 1) % left.length];
    out.push(face[a], face[left[ear]], face[c]);
    left.splice(ear, 1);
  }
  for (let k = 1; k + 1 < left.length; k++) out.push(face[left[0]], face[left[k]], face[left[k + 1]]);
}
