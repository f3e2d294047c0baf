// What the 3D view shows: the cage's levels and its limit surface.

// A form to be shown: where its vertices lie and how they are joined.
class Form {
  constructor(content, cage, name) {
    this.name = name;
    this.cage = cage;
    const shape = content.header.shape;
    this.isLimit = name === "limit";
    const about = this.isLimit ? shape.limit : shape.levels[name - 1];
    this.level = about?.level ?? 0;
    this.numbering = this.level ? new Numbering(cage, this.level) : new Unrefined(cage);
    if (about) {
      this.low = about.low;
      this.extent = about.extent;
      this.rounded = content.get(this.isLimit ? "limit" : `level ${name}`);
      this.normals = this.isLimit ? content.get("limit normals") : null;
      this.splits = this.isLimit && this.level ? content.get("split corners") : [];
      this.splitNormals = this.splits.length ? content.get("split normals") : null;
    }
  }

  point(v) {
    if (!this.rounded) return at3(this.cage.positions, v);
    return [0, 1, 2].map((k) => this.low[k] + (this.rounded[3 * v + k] / 65535) * this.extent[k]);
  }

  // The exact normal of a vertex, where there is one.
  normal(v) {
    const x = this.normals?.[2 * v], y = this.normals?.[2 * v + 1];
    if (!x) return null;
    const e = [(x - 1) / 32767 - 1, (y - 1) / 32767 - 1];
    const z = 1 - Math.abs(e[0]) - Math.abs(e[1]), fold = Math.max(-z, 0);
    return unit([e[0] - Math.sign(e[0]) * fold, e[1] - Math.sign(e[1]) * fold, z]);
  }

  facePoint(f) {
    if (this.level) return this.point(this.numbering.firstInner + this.numbering.inner[f]);
    let sum = [0, 0, 0];
    for (let c = this.cage.starts[f]; c < this.cage.starts[f + 1]; c++) {
      sum = add(sum, this.point(this.cage.cornerVertices[c]));
    }
    return times(sum, 1 / this.cage.sizes[f]);
  }

  // Corners with a normal of their own become vertices after all others, in the triangles too.
  splitCorners(indices) {
    const base = this.numbering.vertexCount, count = this.splits?.length ?? 0;
    const placesInTriangles = [[0, 3], [1], [2, 4], [5]];
    this.extraFrom = new Uint32Array(count);
    for (let k = 0; k < count; k++) {
      const corner = this.splits[k], quad = 6 * Math.floor(corner / 4);
      const places = placesInTriangles[corner % 4];
      this.extraFrom[k] = indices[quad + places[0]];
      for (const place of places) indices[quad + place] = base + k;
    }
  }
}
