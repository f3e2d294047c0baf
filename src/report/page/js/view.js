// The 3D view: which form is shown, with what on it, drawn on demand.

// A frame that waits longer than this for its turn is too slow to follow the hand.
const SLOW_MILLISECONDS = 90;

// After that long without a change the form counts as still; at most where frames take long.
const STILL_MILLISECONDS = 220;
const STILL_MILLISECONDS_MAX = 1500;

// Lengths on the screen, in pixels, over which the cage's lines fade in: shorter edges would only
// blacken the surface.
const LINE_PIXELS = [3, 11];

class View {
  constructor(canvas, content, cage) {
    this.canvas = canvas;
    this.content = content;
    this.cage = cage;
    this.gl = canvas.getContext("webgl2", { antialias: true, alpha: true, premultipliedAlpha: false });
    if (!this.gl) throw new Error("no WebGL 2");
    this.forms = new Map();
    this.show = {
      form: "limit", lines: "surface", marks: false, coloured: true, striped: false, limits: [0, 1],
      stripeCount: 18, stripeSlide: 0, stripeTurn: 0,
    };
    this.frames = 0;
    this.slowFrames = 0;
    this.beforeDraw = [];
    this.insideOut = this.woundInward();
    this.prepare();
    this.camera = new Camera(this.usedPoints(), content.header.up, () => this.request());
    new ResizeObserver(() => this.resize()).observe(canvas);
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => { this.painter.readColours(); this.request(); });
    canvas.addEventListener("webglcontextlost", (event) => event.preventDefault());
    canvas.addEventListener("webglcontextrestored", () => { this.forms.clear(); this.prepare(); this.request(); });
  }

  prepare() {
    this.painter = new Painter(this.gl, this.content.header.stops);
    this.overlays = this.painter.overlays(["place", "members", "pointed"]);
  }

  // All points that the whole view must hold: those of the cage and of its limit.
  usedPoints() {
    const points = [], limit = this.form("limit");
    for (let v = 0; v < this.cage.vertexCount; v++) {
      if (!(this.cage.vertexKinds[v] & 4)) points.push(...limit.point(v));
    }
    for (let f = 0; f < this.cage.faceCount && limit.level; f++) points.push(...limit.facePoint(f));
    return Float32Array.from(points);
  }

  // Whether the closed form is wound with its inside out: its volume is negative.
  woundInward() {
    const { starts, sizes, cornerVertices, positions } = this.cage;
    let volume = 0;
    for (let f = 0; f < this.cage.faceCount; f++) {
      const corner = (k) => at3(positions, cornerVertices[starts[f] + k]);
      for (let k = 1; k + 1 < sizes[f]; k++) volume += dot(corner(0), cross(corner(k), corner(k + 1)));
    }
    return volume < 0;
  }

  form(name) {
    if (!this.forms.has(name)) this.forms.set(name, new Form(this.content, this.cage, name));
    return this.forms.get(name);
  }

  // A form with its buffers on the graphics processor.
  loaded(name) {
    const form = this.form(name);
    if (form.array) return form;
    const indices = form.numbering.triangles();
    form.splitCorners(indices);
    this.painter.load(form, indices);
    form.overlays = this.painter.overlays(["lines", "marked", "symbols"]);
    return form;
  }

  // Colours the forms by one value per cage vertex.
  setFigures(values) {
    this.values = this.cage.spreadOwn(values);
    for (const form of this.forms.values()) form.coloured = null;
    this.request();
  }

  loadFigures(form) {
    if (!this.values || form.coloured === this.values) return;
    this.painter.colour(form, form.numbering.spread(this.values));
    form.coloured = this.values;
  }

  // Lines of the cage and marks, on a form.
  loadOverlays(form) {
    const { lines, marked, symbols } = form.overlays;
    const cage = this.cage, pointAt = (v) => form.point(v);
    const wanted = (want) => Array.from({ length: cage.edgeCount }, (_, e) => e).filter(want);
    if (this.show.lines !== "none" && !lines.filled && this.lineStrength > 0) {
      this.painter.fill(lines, linePieces(form.numbering, pointAt, wanted(() => true), () => LINE.plain), 9);
    }
    if (this.show.marks && !marked.filled) {
      const kind = (e) => lineKind(cage, e);
      this.painter.fill(marked, linePieces(form.numbering, pointAt, wanted((e) => kind(e) !== LINE.plain), kind), 9);
      const valences = this.cage.spreadOwn(this.content.get("valence"));
      const found = symbolPlaces(cage, valences, pointAt, (f) => form.facePoint(f));
      this.painter.fill(symbols, found.places, 4);
      fillMarkLegend(cage, found.counts);
    }
  }

  // The form that lines and marks lie on.
  get carrier() { return this.show.lines === "built" ? this.loaded(0) : this.loaded(this.show.form); }

  request() {
    if (!this.pending) {
      const asked = performance.now();
      this.pending = requestAnimationFrame((now) => {
        this.pending = 0;
        for (const step of this.beforeDraw) step(now);
        this.pace(performance.now() - asked);
        this.draw();
      });
    }
  }

  // Notes how long a frame had to wait for those before it. Where the machine can't keep up, the
  // moving form is drawn coarser and without the cage's lines, and in full once it is still.
  pace(waited) {
    this.slowFrames = clamp(this.slowFrames + (waited > SLOW_MILLISECONDS ? 1 : -0.25), 0, 4);
    this.moving = this.slowFrames >= 1;
    clearTimeout(this.stillTimer);
    if (!this.moving) return;
    // Later than the next frame can come: one in full would hold that up.
    const still = Math.min(STILL_MILLISECONDS + 2 * waited, STILL_MILLISECONDS_MAX);
    this.stillTimer = setTimeout(() => { this.moving = false; this.draw(); }, still);
  }

  // The triangles of a form for when it moves on a slow machine.
  coarse(form) {
    if (!form.coarse) {
      const step = 2 ** Math.max(form.level - 1, 0);
      if (step === 1) return form;
      const indices = form.numbering.triangles(step);
      this.gl.bindVertexArray(null);
      form.coarse = { indices: this.painter.buffer(indices, this.gl.ELEMENT_ARRAY_BUFFER), indexCount: indices.length };
    }
    return form.coarse;
  }

  // How strongly the cage's lines show: fainter where they lie closer.
  get lineStrength() {
    if (this.edgeLength === undefined) {
      const { edges, edgeCount, positions } = this.cage;
      let sum = 0;
      for (let e = 0; e < edgeCount; e++) sum += length(minus(at3(positions, edges[2 * e]), at3(positions, edges[2 * e + 1])));
      this.edgeLength = sum / Math.max(edgeCount, 1);
    }
    const pixels = (this.edgeLength * this.canvas.clientHeight) / (2 * this.camera.halfHeight);
    return clamp((pixels - LINE_PIXELS[0]) / (LINE_PIXELS[1] - LINE_PIXELS[0]), 0, 1);
  }

  resize() {
    const density = Math.min(devicePixelRatio || 1, 2);
    const { clientWidth, clientHeight } = this.canvas;
    if (!clientWidth || !clientHeight) return;
    this.density = density;
    this.canvas.width = Math.round(clientWidth * density);
    this.canvas.height = Math.round(clientHeight * density);
    const first = !this.sized;
    const turned = this.sized && (this.camera.aspect < 1) !== (clientWidth < clientHeight);
    this.camera.aspect = clientWidth / clientHeight;
    this.sized = true;
    if (first || turned) Object.assign(this.camera, this.camera.whole(this.camera.yaw, this.camera.pitch));
    this.draw();
  }

  draw() {
    if (!this.sized || this.gl.isContextLost()) return;
    const gl = this.gl, painter = this.painter, look = { ...this.camera.look(), density: this.density };
    this.look = look;
    const form = this.loaded(this.show.form), carrier = this.carrier;
    if (this.show.coloured) this.loadFigures(form);
    this.loadOverlays(carrier);
    gl.viewport(0, 0, this.canvas.width, this.canvas.height);
    // First: while depths are not to be written, they are not cleared either.
    gl.depthMask(true);
    gl.clearColor(0, 0, 0, 0);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    gl.enable(gl.DEPTH_TEST);
    gl.depthFunc(gl.LEQUAL);
    gl.disable(gl.BLEND);
    // Made before the form's own array is bound, which it would unbind.
    const triangles = this.moving ? this.coarse(form) : form;
    painter.drawSurface(form, triangles, look, this.show, this.insideOut);
    gl.enable(gl.BLEND);
    gl.blendFuncSeparate(gl.SRC_ALPHA, gl.ONE_MINUS_SRC_ALPHA, gl.ONE, gl.ONE_MINUS_SRC_ALPHA);
    gl.depthMask(false);
    const strength = this.lineStrength;
    if (this.show.lines !== "none" && strength > 0 && !this.moving) painter.drawLines(carrier.overlays.lines, look, strength);
    if (this.show.marks) {
      painter.drawLines(carrier.overlays.marked, look);
      painter.drawSymbols(carrier.overlays.symbols, look, this.canvas.clientWidth < 600 ? 6 : 8);
    }
    this.drawChosen(look);
    gl.bindVertexArray(null);
    this.frames++;
    this.canvas.dataset.frames = String(this.frames);
  }

  // The chosen place and vertices; what the form hides shows faintly.
  drawChosen(look) {
    const gl = this.gl, painter = this.painter;
    this.loadChosen();
    gl.disable(gl.DEPTH_TEST);
    painter.drawLines(this.overlays.place, look, 0.22);
    gl.enable(gl.DEPTH_TEST);
    painter.drawLines(this.overlays.place, look);
    gl.disable(gl.DEPTH_TEST);
    painter.drawSymbols(this.overlays.pointed, look, 9);
    painter.drawSymbols(this.overlays.members, look, 11);
  }

  // Chooses a place (its vertices; the edges about its faces become its outline) and vertices.
  choose({ place = this.chosen?.place, vertex = this.chosen?.vertex, pointed = this.chosen?.pointed }) {
    this.chosen = { place, vertex, pointed };
    this.chosenOn = null;
    this.request();
  }

  loadChosen() {
    const carrier = this.carrier;
    if (!this.chosen || this.chosenOn === carrier) return;
    this.chosenOn = carrier;
    const { place, vertex, pointed } = this.chosen, pointAt = (v) => carrier.point(v);
    const outline = place ? outlineOf(this.cage, place.vertices) : [];
    const rim = linePieces(carrier.numbering, pointAt, outline, () => LINE.chosenRim);
    const line = linePieces(carrier.numbering, pointAt, outline, () => LINE.chosen);
    const both = new Float32Array(rim.length + line.length);
    both.set(rim);
    both.set(line, rim.length);
    this.painter.fill(this.overlays.place, both, 9);
    const symbols = (list) => Float32Array.from(list.flatMap(([v, kind]) => [...pointAt(v), kind]));
    const known = (v) => v !== undefined && v !== null;
    this.painter.fill(this.overlays.members, symbols(known(vertex) ? [[vertex, SYMBOL.chosen]] : []), 4);
    this.painter.fill(this.overlays.pointed, symbols(known(pointed) ? [[pointed, SYMBOL.pointed]] : []), 4);
  }

  // The cage vertex shown within `reach` pixels of a place in the canvas; of several, the nearest
  // to the viewer among those that face it.
  vertexNear(x, y, reach) {
    if (!this.look) return null;
    const { toClip, eye, back, parallel } = this.look;
    const { clientWidth, clientHeight } = this.canvas;
    const carrier = this.carrier, limit = this.form("limit");
    let found = null, best = Infinity;
    for (let v = 0; v < this.cage.vertexCount; v++) {
      if (this.cage.vertexKinds[v] & 4) continue;
      const p = carrier.point(v), c = inClip(toClip, p);
      if (c[3] <= 0 || c[2] < -c[3]) continue;
      const dx = (c[0] / c[3] * 0.5 + 0.5) * clientWidth - x;
      const dy = (0.5 - c[1] / c[3] * 0.5) * clientHeight - y;
      const off = dx * dx + dy * dy;
      if (off > reach * reach) continue;
      const normal = limit.normal(v);
      const facing = normal ? dot(normal, parallel ? back : minus(eye, p)) * (this.insideOut ? -1 : 1) : 1;
      // Depth decides first; what is turned away comes last.
      const order = c[2] / c[3] + (facing < 0 ? 4 : 0) + 1e-4 * Math.sqrt(off);
      if (order < best) [best, found] = [order, v];
    }
    return found;
  }
}
