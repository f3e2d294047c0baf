// Putting the page together.

// How much of a place's surroundings a view of it shows, in edge lengths about it.
const SURROUNDINGS = 3;

const page = {};

function trouble(text) {
  const box = byId("trouble");
  box.textContent = text;
  box.hidden = false;
}

function fillHead({ summary }) {
  const { input, bands, highest_risk: highest, places } = summary;
  const name = input.file.split(/[/\\]/).pop() || input.file;
  document.title = `${name}: assessment`;
  byId("file").textContent = name;
  byId("facts").textContent = [
    counted(input.vertices, "vertex", "vertices"), counted(input.faces, "face", "faces"),
    counted(places.length, "place at risk", "places at risk"),
    `highest risk ${writtenRisk(highest)}`,
    ["severe", "fault", "watch", "clean"].map((band) => `${bands[band].toLocaleString("en")} ${band}`).join(", "),
  ].join(" · ");
  const bytes = Number(document.body.dataset.bytes);
  const size = bytes < 1e6 ? `${Math.round(bytes / 1e3)} kB` : `${(bytes / 1e6).toFixed(1)} MB`;
  byId("footer").textContent = `Made by ${summary.program.name} ${summary.program.version}. ` +
    `This file: ${size}; it holds everything it shows and asks no network for anything.`;
}

function fillWhole({ summary }) {
  const { input, body, options, mirror } = summary;
  const axes = (values, unit) => values.map((x) => written(x)).join(" × ") + (unit ? ` ${unit}` : "");
  const rows = [
    ["file", input.file],
    ["faces", `${input.quads} quads, ${input.triangles} triangles, ${input.ngons} n-gons`],
    ["edges, shells", `${input.edges}, ${input.shells}`],
    ["borders", input.borders.length ? input.borders.slice(0, 12).map((b) => `${b.edges} edges at vertex ${b.vertex}`).join("; ") : "none"],
    ["poles", input.poles.length ? input.poles.map((p) => `${p.count} of valence ${p.valence}`).join("; ") : "none"],
    ["extent, cage", axes(body.cage_extent_units, "units")],
    ["extent, smoothed", axes(body.limit_extent_units, "units")],
    ["lost extent", axes(body.extent_loss_percent, "percent")],
    ["lost volume", body.volume_loss_percent === null ? "undefined: open borders" : `${written(body.volume_loss_percent)} percent`],
    ["borders behave", options.boundary],
    ["mirrored", mirror ? `yes: a half, shown as part of its whole; its vertices and places are listed` : "no"],
    ["creases", `${options.crease_edges} edges, ${options.sharp_corners} corners`],
    ["objects, groups, materials", `${input.objects}, ${input.groups}, ${input.materials}`],
  ];
  for (const [oddity, count] of Object.entries(input.oddities)) {
    if (count > 0) rows.push([oddity.replaceAll("_", " "), String(count)]);
  }
  byId("whole").replaceChildren(tableOf("The whole cage", null, rows));
}

function option(text, value) { return element("option", text, { value }); }

function fillChoices({ shape, figures }) {
  const forms = byId("form");
  forms.append(option("limit", "limit"));
  for (const { level } of shape.levels.slice().reverse()) forms.append(option(`level ${level}`, level));
  forms.append(option("level 0, the cage", 0));
  const list = byId("figure");
  list.append(option("none", ""));
  const groups = [["Risk", ["risk", "part"]], ["Measures", ["measure"]]];
  for (const [label, kinds] of groups) {
    const group = element("optgroup", null, { label });
    figures.forEach((figure, k) => { if (kinds.includes(figure.kind)) group.append(option(figure.name, k)); });
    list.append(group);
  }
  list.value = "0";
}

// Flies to where a place is seen with its surroundings on the limit surface. Where other parts hide it
// on all sides they are cut away; the answer is whether they are.
function flyToPlace(view, cage, place) {
  const limit = view.form("limit");
  const points = place.vertices.map((v) => limit.point(v));
  const centre = times(points.reduce(add, [0, 0, 0]), 1 / points.length);
  const about = cage.facesOfVertices();
  let edges = 0, count = 0, normal = [0, 0, 0];
  for (const v of [place.peak, ...place.vertices.slice(0, 200)]) {
    normal = add(normal, limit.normal(v) ?? [0, 0, 0]);
    for (const f of about.of(v)) {
      for (let c = cage.starts[f]; c < cage.starts[f + 1]; c++) {
        const ends = [0, 1].map((k) => limit.point(cage.edges[2 * cage.cornerEdges[c] + k]));
        edges += length(minus(ends[0], ends[1]));
        count++;
      }
    }
  }
  const peak = limit.point(place.peak);
  // A place that reaches round the form is looked at from the side of its peak.
  if (length(normal) < 0.3 * (place.vertices.length + 1)) normal = limit.normal(place.peak) ?? minus(peak, view.camera.centre);
  if (view.insideOut) normal = times(normal, -1);
  if (length(normal) === 0) normal = view.camera.direction();
  const reach = Math.max(...points.map((p) => length(minus(p, centre))));
  const edge = count ? edges / count : 0.1;
  const distance = view.camera.distanceTo(reach + SURROUNDINGS * edge);
  const vertices = [place.peak, ...place.vertices.filter((v) => v !== place.peak)];
  view.sight ??= new Sight(view, cage);
  const { direction, seen } = view.sight.towards({ vertices, centre, normal, distance, edge });
  const before = Math.max(...points.map((p) => dot(minus(p, centre), direction)), dot(minus(peak, centre), direction));
  view.camera.flyTo(centre, distance, direction, seen ? Infinity : before + 0.3 * edge);
  return !seen;
}

function wire(content, cage, view) {
  const { header } = content;
  const show = view.show;
  byId("up").value = header.up;
  const scale = new Scale(view, header.stops);
  const vertices = new Vertices(content, cage);
  let figure = header.figures[0];
  const places = new Places(header, (place) => {
    view.choose({ place, vertex: place.peak });
    vertices.show(place.peak);
    return flyToPlace(view, cage, place);
  });
  const setFigure = () => {
    figure = header.figures[byId("figure").value] ?? null;
    if (byId("figure").value === "") figure = null;
    show.coloured = figure !== null;
    byId("scale").hidden = !figure;
    if (figure) {
      const values = content.get(figure.section);
      scale.set(figure, values);
      view.setFigures(values);
    }
    view.request();
  };
  const on = (id, event, act) => byId(id).addEventListener(event, act);
  on("form", "change", (e) => { show.form = e.target.value === "limit" ? "limit" : Number(e.target.value); view.request(); });
  on("figure", "change", setFigure);
  on("lines", "change", (e) => { show.lines = e.target.value; view.request(); });
  on("marks", "change", (e) => { show.marks = e.target.checked; byId("mark-legend").hidden = !show.marks; view.request(); });
  on("up", "change", (e) => { view.camera.axes = UPRIGHT[e.target.value]; view.camera.frameAll(); });
  on("parallel", "change", (e) => { view.camera.parallel = e.target.checked; view.request(); });
  on("controls", "submit", (e) => e.preventDefault());
  on("frame-all", "click", () => view.camera.frameAll());
  for (const button of document.querySelectorAll("[data-view]")) {
    button.addEventListener("click", () => view.camera.named(button.dataset.view));
  }
  wireStripes(view, on);
  const tip = byId("tip");
  new Hand(view, {
    step: (by) => places.step(by),
    picked: (v) => { view.choose({ vertex: v }); vertices.show(v); },
    pointed: (v, at) => {
      if ((view.chosen?.pointed ?? null) !== v) view.choose({ pointed: v });
      tip.hidden = v === null;
      if (v === null) return;
      tip.textContent = vertices.short(v, figure);
      const { clientWidth, clientHeight } = view.canvas;
      const x = at[0] + 16 + tip.offsetWidth > clientWidth ? at[0] - 12 - tip.offsetWidth : at[0] + 16;
      const y = at[1] + 12 + tip.offsetHeight > clientHeight ? at[1] - 8 - tip.offsetHeight : at[1] + 12;
      tip.style.transform = `translate(${Math.max(x, 2)}px, ${Math.max(y, 2)}px)`;
    },
  });
  wireSearch(view, cage, vertices, on);
  setFigure();
  Object.assign(page, { places, scale, vertices });
}

function wireStripes(view, on) {
  const show = view.show;
  const slide = byId("stripe-slide"), run = byId("stripe-run");
  const set = () => {
    show.striped = byId("stripes").checked;
    byId("stripe-controls").hidden = !show.striped;
    show.stripeCount = Number(byId("stripe-count").value);
    show.stripeTurn = Number(byId("stripe-turn").value) * DEGREE;
    show.stripeSlide = Number(slide.value) / 100;
    view.request();
  };
  for (const id of ["stripes", "stripe-count", "stripe-slide", "stripe-turn", "stripe-run"]) on(id, "input", set);
  let before = 0;
  view.beforeDraw.push((now) => {
    if (!show.striped || !run.checked) { before = 0; return; }
    if (before) show.stripeSlide = (show.stripeSlide + (now - before) / 2500) % 1;
    slide.value = String(Math.round(100 * show.stripeSlide));
    before = now;
    requestAnimationFrame(() => view.request());
  });
}

function wireSearch(view, cage, vertices, on) {
  const count = cage.ownCount;
  byId("number").max = String(count);
  on("search", "submit", (event) => {
    event.preventDefault();
    const number = Number(byId("number").value), v = number - 1;
    const answer = byId("search-answer");
    if (!Number.isInteger(number) || v < 0 || v >= count) {
      answer.textContent = `Give a number from 1 to ${count}.`;
      return;
    }
    answer.textContent = cage.vertexKinds[v] & 4 ? "No face uses this vertex." : "";
    vertices.show(v);
    if (!view || cage.vertexKinds[v] & 4) return;
    view.choose({ vertex: v });
    flyToPlace(view, cage, { peak: v, vertices: [v] });
  });
}

// Without a view: the tables alone.
function wireTables(content, cage) {
  const vertices = new Vertices(content, cage);
  const places = new Places(content.header, (place) => { vertices.show(place.peak); });
  wireSearch(null, cage, vertices, (id, event, act) => byId(id).addEventListener(event, act));
  byId("table-box").open = true;
  Object.assign(page, { places, vertices });
}

async function start() {
  let content;
  try {
    content = await readContent();
  } catch (error) {
    byId("facts").textContent = "";
    document.body.classList.add("undrawn");
    trouble(`This browser can't unpack the page's data (${error.message}); a current one can. ` +
      "The same findings stand in summary.json and risk.csv beside this file.");
    return;
  }
  const { header } = content;
  fillHead(header);
  fillWhole(header);
  const cage = new Cage(content);
  Object.assign(page, { content, cage });
  let view;
  try {
    view = new View(byId("stage"), content, cage);
  } catch (error) {
    document.body.classList.add("undrawn");
    trouble(`The surface can't be drawn: this browser has no WebGL 2, or it is switched off (${error.message}). ` +
      "The findings are below; preview.obj beside this file has the smoothed form.");
    wireTables(content, cage);
    return;
  }
  page.view = view;
  document.body.classList.add("drawn");
  fillChoices(header);
  wire(content, cage, view);
}

start();
