// The 3D view: forms (the levels and the limit surface) as buffers, drawn on demand.

const PALETTE_SIZE = 256;

// A frame that waits longer than this for its turn is too slow to follow the hand.
const SLOW_MILLISECONDS = 90;

// After that long without a change the form counts as still; at most where frames take long.
const STILL_MILLISECONDS = 220;
const STILL_MILLISECONDS_MAX = 1500;

// Lengths on the screen, in pixels, over which the cage's lines fade in: shorter edges would only
// blacken the surface.
const LINE_PIXELS = [3, 11];

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
}

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
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => { this.readColours(); this.request(); });
    canvas.addEventListener("webglcontextlost", (event) => event.preventDefault());
    canvas.addEventListener("webglcontextrestored", () => { this.forms.clear(); this.prepare(); this.request(); });
  }

  prepare() {
    const gl = this.gl;
    this.surface = this.program(SURFACE_VERTEX, SURFACE_PIXEL, ["place", "octahedral", "figure"]);
    this.lines = this.program(LINE_VERTEX, LINE_PIXEL, ["corner", "from", "to", "style"]);
    this.symbols = this.program(SYMBOL_VERTEX, SYMBOL_PIXEL, ["corner", "place", "symbol"]);
    this.strip = this.buffer(Float32Array.of(0, -1, 1, -1, 0, 1, 1, 1));
    this.square = this.buffer(Float32Array.of(-1, -1, 1, -1, -1, 1, 1, 1));
    this.palette = gl.createTexture();
    gl.bindTexture(gl.TEXTURE_2D, this.palette);
    gl.texImage2D(gl.TEXTURE_2D, 0, gl.RGBA, PALETTE_SIZE, 1, 0, gl.RGBA, gl.UNSIGNED_BYTE,
      paletteBytes(this.content.header.stops, PALETTE_SIZE));
    for (const name of [gl.TEXTURE_MIN_FILTER, gl.TEXTURE_MAG_FILTER]) gl.texParameteri(gl.TEXTURE_2D, name, gl.LINEAR);
    for (const name of [gl.TEXTURE_WRAP_S, gl.TEXTURE_WRAP_T]) gl.texParameteri(gl.TEXTURE_2D, name, gl.CLAMP_TO_EDGE);
    this.overlays = { place: this.overlay(), members: this.overlay(), pointed: this.overlay() };
    this.readColours();
  }

  overlay() { return { buffer: this.gl.createBuffer(), count: 0 }; }

  program(vertex, pixel, attributes) {
    const gl = this.gl, program = gl.createProgram();
    for (const [kind, text] of [[gl.VERTEX_SHADER, vertex], [gl.FRAGMENT_SHADER, pixel]]) {
      const shader = gl.createShader(kind);
      gl.shaderSource(shader, text);
      gl.compileShader(shader);
      gl.attachShader(program, shader);
    }
    attributes.forEach((name, k) => gl.bindAttribLocation(program, k, name));
    gl.linkProgram(program);
    if (!gl.getProgramParameter(program, gl.LINK_STATUS)) throw new Error(gl.getProgramInfoLog(program) || "no program");
    const uniforms = {};
    for (let k = 0; k < gl.getProgramParameter(program, gl.ACTIVE_UNIFORMS); k++) {
      const name = gl.getActiveUniform(program, k).name.replace("[0]", "");
      uniforms[name] = gl.getUniformLocation(program, name);
    }
    return { program, uniforms };
  }

  buffer(data, target = this.gl.ARRAY_BUFFER) {
    const made = this.gl.createBuffer();
    this.gl.bindBuffer(target, made);
    this.gl.bufferData(target, data, this.gl.STATIC_DRAW);
    return made;
  }

  readColours() {
    const style = getComputedStyle(document.documentElement);
    const dark = matchMedia("(prefers-color-scheme: dark)").matches;
    this.dark = dark;
    this.paper = style.getPropertyValue("--paper");
    this.material = dark ? [0.66, 0.68, 0.69] : [0.78, 0.79, 0.79];
    // By kind of line; see LINE_PIXEL.
    const ink = [0.06, 0.09, 0.11], blue = [0.02, 0.29, 0.62], white = [1, 1, 1];
    this.lineColours = [ink, blue, [0.35, 0.0, 0.45], [0.0, 0.32, 0.28], ink, [0.0, 0.35, 0.75], white, ink].flat();
    this.lineOpacities = [0.42, 0.95, 1, 1, 0.9, 1, 0.9, 1];
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
    const gl = this.gl;
    const indices = form.numbering.triangles();
    const base = form.numbering.vertexCount, extra = form.splits?.length ?? 0;
    form.extraFrom = new Uint32Array(extra);
    const splitCorner = [[0, 3], [1], [2, 4], [5]];
    for (let k = 0; k < extra; k++) {
      const corner = form.splits[k], quad = 6 * Math.floor(corner / 4);
      const slots = splitCorner[corner % 4];
      form.extraFrom[k] = indices[quad + slots[0]];
      for (const slot of slots) indices[quad + slot] = base + k;
    }
    form.array = gl.createVertexArray();
    gl.bindVertexArray(form.array);
    this.loadPlaces(form, base, extra);
    form.figures = gl.createBuffer();
    gl.bindBuffer(gl.ARRAY_BUFFER, form.figures);
    gl.bufferData(gl.ARRAY_BUFFER, 8 * (base + extra), gl.DYNAMIC_DRAW);
    gl.enableVertexAttribArray(2);
    gl.vertexAttribPointer(2, 2, gl.FLOAT, false, 0, 0);
    form.indices = this.buffer(indices, gl.ELEMENT_ARRAY_BUFFER);
    form.indexCount = indices.length;
    gl.bindVertexArray(null);
    form.overlays = { lines: this.overlay(), marked: this.overlay(), symbols: this.overlay() };
    return form;
  }

  loadPlaces(form, base, extra) {
    const gl = this.gl;
    gl.enableVertexAttribArray(0);
    if (form.rounded) {
      const places = new Uint16Array(4 * (base + extra));
      const place = (from, to) => { for (let k = 0; k < 3; k++) places[4 * to + k] = form.rounded[3 * from + k]; };
      for (let v = 0; v < base; v++) place(v, v);
      for (let k = 0; k < extra; k++) place(form.extraFrom[k], base + k);
      this.buffer(places);
      gl.vertexAttribPointer(0, 3, gl.UNSIGNED_SHORT, true, 8, 0);
    } else {
      this.buffer(form.cage.positions);
      gl.vertexAttribPointer(0, 3, gl.FLOAT, false, 0, 0);
    }
    if (!form.normals) return;
    const normals = new Uint16Array(2 * (base + extra));
    normals.set(form.normals);
    if (extra) normals.set(form.splitNormals, 2 * base);
    this.buffer(normals);
    gl.enableVertexAttribArray(1);
    gl.vertexAttribPointer(1, 2, gl.UNSIGNED_SHORT, false, 0, 0);
  }

  // Colours the forms by one value per cage vertex.
  setFigures(values) {
    this.values = this.cage.spreadOwn(values);
    for (const form of this.forms.values()) form.coloured = null;
    this.request();
  }

  loadFigures(form) {
    if (!this.values || form.coloured === this.values) return;
    const spread = form.numbering.spread(this.values);
    const gl = this.gl;
    gl.bindBuffer(gl.ARRAY_BUFFER, form.figures);
    gl.bufferSubData(gl.ARRAY_BUFFER, 0, spread);
    if (form.extraFrom.length) {
      const extra = new Float32Array(2 * form.extraFrom.length);
      form.extraFrom.forEach((v, k) => { extra[2 * k] = spread[2 * v]; extra[2 * k + 1] = spread[2 * v + 1]; });
      gl.bufferSubData(gl.ARRAY_BUFFER, 4 * spread.length, extra);
    }
    form.coloured = this.values;
  }

  fill(overlay, numbers, width) {
    const gl = this.gl;
    gl.bindBuffer(gl.ARRAY_BUFFER, overlay.buffer);
    gl.bufferData(gl.ARRAY_BUFFER, numbers, gl.STATIC_DRAW);
    overlay.count = numbers.length / width;
    overlay.filled = true;
  }

  // Lines of the cage and marks, on a form.
  loadOverlays(form) {
    const { lines, marked, symbols } = form.overlays;
    const cage = this.cage, pointAt = (v) => form.point(v);
    const wanted = (want) => Array.from({ length: cage.edgeCount }, (_, e) => e).filter(want);
    if (this.show.lines !== "none" && !lines.filled && this.lineStrength > 0) {
      this.fill(lines, linePieces(form.numbering, pointAt, wanted(() => true), () => LINE.plain), 9);
    }
    if (this.show.marks && !marked.filled) {
      const kind = (e) => lineKind(cage, e);
      this.fill(marked, linePieces(form.numbering, pointAt, wanted((e) => kind(e) !== LINE.plain), kind), 9);
      const valences = this.cage.spreadOwn(this.content.get("valence"));
      const found = symbolPlaces(cage, valences, pointAt, (f) => form.facePoint(f));
      this.fill(symbols, found.places, 4);
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
      form.coarse = { indices: this.buffer(indices, this.gl.ELEMENT_ARRAY_BUFFER), indexCount: indices.length };
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
    const gl = this.gl, look = this.camera.look();
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
    this.drawSurface(form, look);
    gl.enable(gl.BLEND);
    gl.blendFuncSeparate(gl.SRC_ALPHA, gl.ONE_MINUS_SRC_ALPHA, gl.ONE, gl.ONE_MINUS_SRC_ALPHA);
    gl.depthMask(false);
    const strength = this.lineStrength;
    if (this.show.lines !== "none" && strength > 0 && !this.moving) this.drawLines(carrier.overlays.lines, look, strength);
    if (this.show.marks) {
      this.drawLines(carrier.overlays.marked, look);
      this.drawSymbols(carrier.overlays.symbols, look, this.canvas.clientWidth < 600 ? 6 : 8);
    }
    this.drawChosen(look);
    gl.bindVertexArray(null);
    this.frames++;
    this.canvas.dataset.frames = String(this.frames);
  }

  drawSurface(form, look) {
    const gl = this.gl, u = this.surface.uniforms, show = this.show;
    // Made before the form's own array is bound, which it would unbind.
    const { indices, indexCount } = this.moving ? this.coarse(form) : form;
    gl.useProgram(this.surface.program);
    gl.uniformMatrix4fv(u.toClip, false, look.toClip);
    gl.uniform3fv(u.low, form.low ?? [0, 0, 0]);
    gl.uniform3fv(u.extent, form.extent ?? [1, 1, 1]);
    for (const name of ["eye", "back", "right", "up"]) gl.uniform3fv(u[name], look[name]);
    for (const [name, value] of [["parallel", look.parallel], ["coloured", show.coloured],
      ["striped", show.striped], ["insideOut", this.insideOut]]) gl.uniform1i(u[name], value ? 1 : 0);
    gl.uniform2fv(u.limits, show.limits);
    gl.uniform3fv(u.material, this.material);
    for (const name of ["stripeCount", "stripeSlide", "stripeTurn"]) gl.uniform1f(u[name], show[name]);
    gl.activeTexture(gl.TEXTURE0);
    gl.bindTexture(gl.TEXTURE_2D, this.palette);
    gl.uniform1i(u.palette, 0);
    gl.bindVertexArray(form.array);
    if (!form.normals) gl.vertexAttrib2f(1, 0, 0);
    gl.bindBuffer(gl.ELEMENT_ARRAY_BUFFER, indices);
    gl.drawElements(gl.TRIANGLES, indexCount, gl.UNSIGNED_INT, 0);
  }

  // Attributes of instances, one buffer, `parts` its widths in order from location 1.
  instances(overlay, square, parts) {
    const gl = this.gl;
    gl.bindVertexArray(null);
    gl.bindBuffer(gl.ARRAY_BUFFER, square);
    gl.enableVertexAttribArray(0);
    gl.vertexAttribPointer(0, 2, gl.FLOAT, false, 0, 0);
    gl.bindBuffer(gl.ARRAY_BUFFER, overlay.buffer);
    const stride = 4 * parts.reduce((a, b) => a + b, 0);
    let start = 0;
    parts.forEach((width, k) => {
      gl.enableVertexAttribArray(k + 1);
      gl.vertexAttribPointer(k + 1, width, gl.FLOAT, false, stride, start);
      gl.vertexAttribDivisor(k + 1, 1);
      start += 4 * width;
    });
    gl.drawArraysInstanced(gl.TRIANGLE_STRIP, 0, 4, overlay.count);
    parts.forEach((_, k) => { gl.vertexAttribDivisor(k + 1, 0); gl.disableVertexAttribArray(k + 1); });
  }

  drawLines(overlay, look, strength = 1) {
    if (!overlay.count) return;
    const gl = this.gl, u = this.lines.uniforms;
    gl.useProgram(this.lines.program);
    gl.uniformMatrix4fv(u.toClip, false, look.toClip);
    gl.uniform2f(u.pixels, this.canvas.width, this.canvas.height);
    gl.uniform1f(u.scale, this.density);
    gl.uniform3fv(u.eye, look.eye);
    gl.uniform3fv(u.back, look.back);
    gl.uniform1i(u.parallel, look.parallel ? 1 : 0);
    gl.uniform1f(u.lens, look.lens);
    gl.uniform1f(u.strength, strength);
    gl.uniform1fv(u.widths, LINE_WIDTHS);
    gl.uniform3fv(u.colours, this.lineColours);
    gl.uniform1fv(u.opacities, this.lineOpacities);
    this.instances(overlay, this.strip, [3, 3, 3]);
  }

  drawSymbols(overlay, look, size) {
    if (!overlay.count) return;
    const gl = this.gl, u = this.symbols.uniforms;
    gl.useProgram(this.symbols.program);
    gl.uniformMatrix4fv(u.toClip, false, look.toClip);
    gl.uniform2f(u.pixels, this.canvas.width, this.canvas.height);
    gl.uniform1f(u.size, size * this.density);
    gl.uniform3fv(u.eye, look.eye);
    gl.uniform3fv(u.back, look.back);
    gl.uniform1i(u.parallel, look.parallel ? 1 : 0);
    gl.uniform1f(u.lens, look.lens);
    gl.uniform3f(u.ink, 0.06, 0.09, 0.11);
    gl.uniform3f(u.halo, 1, 1, 1);
    gl.uniform3f(u.accent, 0, 0.35, 0.75);
    this.instances(overlay, this.square, [3, 1]);
  }

  // The chosen place and vertices; what the form hides shows faintly.
  drawChosen(look) {
    const gl = this.gl;
    this.loadChosen();
    gl.disable(gl.DEPTH_TEST);
    this.drawLines(this.overlays.place, look, 0.22);
    gl.enable(gl.DEPTH_TEST);
    this.drawLines(this.overlays.place, look);
    gl.disable(gl.DEPTH_TEST);
    this.drawSymbols(this.overlays.pointed, look, 9);
    this.drawSymbols(this.overlays.members, look, 11);
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
    this.fill(this.overlays.place, both, 9);
    const symbols = (list) => Float32Array.from(list.flatMap(([v, kind]) => [...pointAt(v), kind]));
    const known = (v) => v !== undefined && v !== null;
    this.fill(this.overlays.members, symbols(known(vertex) ? [[vertex, SYMBOL.chosen]] : []), 4);
    this.fill(this.overlays.pointed, symbols(known(pointed) ? [[pointed, SYMBOL.pointed]] : []), 4);
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
