// What is drawn over the surface: the cage's lines by kind, and symbols at poles and faces other
// than quads.

const LINE = { plain: 0, border: 1, nonManifold: 2, crease: 3, shading: 4, chosen: 5, chosenRim: 6 };
const SYMBOL = { pole3: 0, pole5: 1, pole6: 2, triangle: 3, ngon: 4, chosen: 5, member: 6, pointed: 7 };
const LINE_WIDTHS = [1.1, 3.4, 4, 5, 3, 3, 6.5, 0];

const EDGE_BORDER = 1, EDGE_NON_MANIFOLD = 2, EDGE_SHADING = 4;
const VERTEX_POLE = 1;

// What is marked: the line's or symbol's kind, its name in the legend, and what it means.
const MARKS = [
  ["line", LINE.border, "border (open edge)", "border"],
  ["line", LINE.crease, "crease", "crease"],
  ["line", LINE.shading, "shading break"],
  ["line", LINE.nonManifold, "non-manifold edge", "non-manifold"],
  ["symbol", SYMBOL.pole3, "pole of valence 3"],
  ["symbol", SYMBOL.pole5, "pole of valence 5"],
  ["symbol", SYMBOL.pole6, "pole of valence 6 and more"],
  ["symbol", SYMBOL.triangle, "triangle"],
  ["symbol", SYMBOL.ngon, "n-gon"],
];

// The kind of edge e: what it is foremost.
function lineKind(cage, e) {
  if (cage.edgeKinds[e] & EDGE_NON_MANIFOLD) return LINE.nonManifold;
  if (cage.edgeKinds[e] & EDGE_BORDER) return LINE.border;
  if (cage.edgeSharpness[e] > 0) return LINE.crease;
  if (cage.edgeKinds[e] & EDGE_SHADING) return LINE.shading;
  return LINE.plain;
}

// Pieces of the edges of `which`, 9 numbers each: from, to, share of the edge at both, kind.
function linePieces(numbering, pointAt, which, kindOf) {
  const pieces = new Float32Array(9 * which.length * numbering.segments);
  let k = 0;
  for (const e of which) {
    const kind = kindOf(e);
    let from = pointAt(numbering.onEdge(e, 0));
    for (let step = 1; step <= numbering.segments; step++) {
      const to = pointAt(numbering.onEdge(e, step));
      pieces.set(from, k);
      pieces.set(to, k + 3);
      pieces[k + 6] = (step - 1) / numbering.segments;
      pieces[k + 7] = step / numbering.segments;
      pieces[k + 8] = kind;
      from = to;
      k += 9;
    }
  }
  return pieces;
}

// Symbols, 4 numbers each: place and kind. Also how many there are of each kind.
function symbolPlaces(cage, valences, vertexPoint, facePoint) {
  const out = [];
  const counts = new Array(8).fill(0);
  const put = (point, kind) => {
    out.push(...point, kind);
    counts[kind]++;
  };
  for (let v = 0; v < cage.vertexCount; v++) {
    if (cage.vertexKinds[v] !== VERTEX_POLE) continue;
    const valence = valences[v];
    put(vertexPoint(v), valence <= 3 ? SYMBOL.pole3 : valence === 5 ? SYMBOL.pole5 : SYMBOL.pole6);
  }
  for (let f = 0; f < cage.faceCount; f++) {
    if (cage.sizes[f] === 4) continue;
    put(facePoint(f), cage.sizes[f] === 3 ? SYMBOL.triangle : SYMBOL.ngon);
  }
  return { places: new Float32Array(out), counts };
}

const SVG = "http://www.w3.org/2000/svg";

function drawnMark(sort, kind) {
  const svg = document.createElementNS(SVG, "svg");
  svg.setAttribute("viewBox", "0 0 30 16");
  svg.setAttribute("aria-hidden", "true");
  const draw = (name, attributes) => {
    const shape = document.createElementNS(SVG, name);
    for (const [key, value] of Object.entries(attributes)) shape.setAttribute(key, value);
    svg.append(shape);
  };
  const stroke = (d, width, more = {}) => draw("path", { d, stroke: "currentColor", "stroke-width": width, fill: "none", ...more });
  const fill = (d) => draw("path", { d, fill: "currentColor" });
  if (sort === "line") {
    if (kind === LINE.border) stroke("M1 8H29", 3.4);
    if (kind === LINE.crease) { stroke("M1 6.2H29", 1.6); stroke("M1 9.8H29", 1.6); }
    if (kind === LINE.shading) stroke("M1 8H29", 3, { "stroke-dasharray": "7 4" });
    if (kind === LINE.nonManifold) stroke("M1 8H29", 4, { "stroke-dasharray": "3 3" });
    return svg;
  }
  if (kind === SYMBOL.pole3) stroke("M15 2.5L20.5 8L15 13.5L9.5 8Z", 2.4);
  if (kind === SYMBOL.pole5) fill("M15 1.5L21.5 8L15 14.5L8.5 8Z");
  if (kind === SYMBOL.pole6) fill("M15 0.8L17.4 3.4H20.2V6L22.3 8L20.2 10V12.6H17.4L15 15.2L12.6 12.6H9.8V10L7.7 8L9.8 6V3.4H12.6Z");
  if (kind === SYMBOL.triangle) fill("M15 2L21.5 13.5H8.5Z");
  if (kind === SYMBOL.ngon) stroke("M15 2L20.4 5V11L15 14L9.6 11V5Z", 2.4);
  return svg;
}

// Fills the legend; marks that the cage has none of are left out.
function fillMarkLegend(cage, symbolCounts) {
  const lineCounts = new Array(8).fill(0);
  for (let e = 0; e < cage.edgeCount; e++) lineCounts[lineKind(cage, e)]++;
  const list = byId("mark-list");
  list.replaceChildren();
  for (const [sort, kind, name, tint] of MARKS) {
    const count = (sort === "line" ? lineCounts : symbolCounts)[kind];
    if (!count) continue;
    const item = element("li", null, tint ? { class: tint } : {});
    item.append(drawnMark(sort, kind), `${name}: ${count.toLocaleString("en")}`);
    list.append(item);
  }
  if (!list.children.length) list.append(element("li", "Nothing to mark: all quads, no poles, no borders."));
}

// The edges of the faces about some vertices that only one of these faces has.
function outlineOf(cage, vertices) {
  const faces = new Set();
  const about = cage.facesOfVertices();
  for (const v of vertices) for (const f of about.of(v)) faces.add(f);
  const uses = new Map();
  for (const f of faces) {
    for (let c = cage.starts[f]; c < cage.starts[f + 1]; c++) {
      const e = cage.cornerEdges[c];
      uses.set(e, (uses.get(e) ?? 0) + 1);
    }
  }
  return Array.from(uses).filter(([, count]) => count === 1).map(([e]) => e);
}
