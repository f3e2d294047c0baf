// One vertex: what the pointer is over, a search by number, and the whole row of figures.

class Vertices {
  constructor(content, cage) {
    this.content = content;
    this.cage = cage;
    this.header = content.header;
    this.causes = content.get("causes");
  }

  // How a vertex is called: by its number in the file; the image of a mirrored half's by the
  // number of what it mirrors.
  title(v) {
    const own = this.cage.own(v);
    return own === v ? `Vertex ${v + 1}` : `Mirror image of vertex ${own + 1}`;
  }

  risk(v) { return this.content.get("risk")[v]; }
  cause(v) { return this.header.causes[this.causes[v]]?.name ?? ""; }

  position(v) {
    const { centre, scale } = this.header.shape;
    // What the rounding of the positions to 24 bits leaves beside a zero is none.
    return at3(this.cage.positions, v).map((x, k) => x * scale + centre[k]).map((x) => Math.abs(x) < 2e-7 * scale ? 0 : x);
  }

  // A few lines: number, risk, cause and the figures that tell most.
  short(vertex, shown) {
    const v = this.cage.own(vertex), risk = this.risk(v), cause = this.cause(v);
    const lines = [this.title(vertex), `risk ${writtenRisk(risk)}${cause ? `, ${cause}` : ""}`];
    const wanted = [shown, ...["deviation_deg", "limit_bend_deg", "valence"].map((name) =>
      this.header.figures.find((figure) => figure.section === name))];
    const told = new Set(["risk"]);
    for (const figure of wanted) {
      if (!figure || told.has(figure.section)) continue;
      told.add(figure.section);
      lines.push(`${figure.name} ${written(this.content.get(figure.section)[v], figure.unit)}`);
    }
    return lines.join("\n");
  }

  // Names of the objects, groups and materials that the faces at the vertex belong to.
  names(v) {
    const faces = this.cage.facesOfVertices().of(v);
    return this.header.names.map(({ kind, section, names }) => {
      const ofFace = this.content.get(section);
      const found = new Set(Array.from(faces, (f) => names[ofFace[f % ofFace.length] - 1]).filter((name) => name !== undefined));
      return [kind, Array.from(found).join(", ") || "none"];
    });
  }

  // Everything about a vertex as a table.
  table(v) {
    const rows = [["position", this.position(v).map((x) => written(x)).join(", "), "file units"]];
    const cause = this.cause(v);
    if (cause) rows.push(["cause", cause, ""]);
    const spot = this.content.get("spot")[v];
    if (spot) rows.push(["place", `No. ${spot} of the list`, ""]);
    rows.push(...this.names(v).map(([kind, names]) => [kind, names, ""]));
    for (const figure of this.header.figures) {
      const value = this.content.get(figure.section)[v];
      if (figure.kind === "part" && !(value > 0)) continue;
      rows.push([figure.name, figure.section === "risk" ? writtenRisk(value) : written(value), figure.unit]);
    }
    const table = tableOf(`Vertex ${v + 1}`, ["figure", "value", "unit"], rows);
    Array.from(table.tBodies[0].rows).forEach((row) => {
      const figure = this.header.figures.find((f) => f.name === row.cells[0].textContent);
      if (figure) row.title = `${figure.tells} (${figure.range})`;
    });
    return table;
  }

  show(vertex) {
    const v = this.cage.own(vertex);
    const box = element("div", null, { class: "scroll", tabindex: "0", role: "region", "aria-label": `Figures of vertex ${v + 1}` });
    box.append(this.table(v));
    byId("figures").replaceChildren(box);
    byId("number").value = String(v + 1);
  }
}
