// The graphics processor's side of the 3D view: programs, buffers and what is drawn with them.

const PALETTE_SIZE = 256;

class Painter {
  constructor(gl, stops) {
    this.gl = gl;
    this.surface = this.program(SURFACE_VERTEX, SURFACE_PIXEL, ["place", "octahedral", "figure"]);
    this.lines = this.program(LINE_VERTEX, LINE_PIXEL, ["corner", "from", "to", "style"]);
    this.symbols = this.program(SYMBOL_VERTEX, SYMBOL_PIXEL, ["corner", "place", "symbol"]);
    this.strip = this.buffer(Float32Array.of(0, -1, 1, -1, 0, 1, 1, 1));
    this.square = this.buffer(Float32Array.of(-1, -1, 1, -1, -1, 1, 1, 1));
    this.palette = gl.createTexture();
    gl.bindTexture(gl.TEXTURE_2D, this.palette);
    gl.texImage2D(gl.TEXTURE_2D, 0, gl.RGBA, PALETTE_SIZE, 1, 0, gl.RGBA, gl.UNSIGNED_BYTE,
      paletteBytes(stops, PALETTE_SIZE));
    for (const name of [gl.TEXTURE_MIN_FILTER, gl.TEXTURE_MAG_FILTER]) gl.texParameteri(gl.TEXTURE_2D, name, gl.LINEAR);
    for (const name of [gl.TEXTURE_WRAP_S, gl.TEXTURE_WRAP_T]) gl.texParameteri(gl.TEXTURE_2D, name, gl.CLAMP_TO_EDGE);
    this.readColours();
  }

  // Buffers for lines or symbols, by name.
  overlays(names) {
    return Object.fromEntries(names.map((name) => [name, { buffer: this.gl.createBuffer(), count: 0 }]));
  }

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
    const dark = matchMedia("(prefers-color-scheme: dark)").matches;
    this.material = dark ? [0.66, 0.68, 0.69] : [0.78, 0.79, 0.79];
    // By kind of line; see LINE_PIXEL.
    const ink = [0.06, 0.09, 0.11], blue = [0.02, 0.29, 0.62], white = [1, 1, 1];
    this.lineColours = [ink, blue, [0.35, 0.0, 0.45], [0.0, 0.32, 0.28], ink, [0.0, 0.35, 0.75], white, ink].flat();
    this.lineOpacities = [0.42, 0.95, 1, 1, 0.9, 1, 0.9, 1];
  }

  // Puts a form on the graphics processor, drawn as the triangles `indices`.
  load(form, indices) {
    const gl = this.gl;
    const base = form.numbering.vertexCount, extra = form.extraFrom.length;
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
  }

  // Colours a loaded form by two values a vertex.
  colour(form, spread) {
    const gl = this.gl;
    gl.bindBuffer(gl.ARRAY_BUFFER, form.figures);
    gl.bufferSubData(gl.ARRAY_BUFFER, 0, spread);
    if (!form.extraFrom.length) return;
    const extra = new Float32Array(2 * form.extraFrom.length);
    form.extraFrom.forEach((v, k) => { extra[2 * k] = spread[2 * v]; extra[2 * k + 1] = spread[2 * v + 1]; });
    gl.bufferSubData(gl.ARRAY_BUFFER, 4 * spread.length, extra);
  }

  // Places and normals of a form's vertices; `extra` of them are once more there, with normals of their own.
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

  fill(overlay, numbers, width) {
    const gl = this.gl;
    gl.bindBuffer(gl.ARRAY_BUFFER, overlay.buffer);
    gl.bufferData(gl.ARRAY_BUFFER, numbers, gl.STATIC_DRAW);
    overlay.count = numbers.length / width;
    overlay.filled = true;
  }

  // Draws the first `indexCount` of a form's triangle corners `indices`.
  drawSurface(form, { indices, indexCount }, look, show, insideOut) {
    const gl = this.gl, u = this.surface.uniforms;
    gl.useProgram(this.surface.program);
    gl.uniformMatrix4fv(u.toClip, false, look.toClip);
    gl.uniform3fv(u.low, form.low ?? [0, 0, 0]);
    gl.uniform3fv(u.extent, form.extent ?? [1, 1, 1]);
    for (const name of ["eye", "back", "right", "up"]) gl.uniform3fv(u[name], look[name]);
    for (const [name, value] of [["parallel", look.parallel], ["coloured", show.coloured],
      ["striped", show.striped], ["insideOut", insideOut]]) gl.uniform1i(u[name], value ? 1 : 0);
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
    gl.uniform2f(u.pixels, gl.canvas.width, gl.canvas.height);
    gl.uniform1f(u.scale, look.density);
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
    gl.uniform2f(u.pixels, gl.canvas.width, gl.canvas.height);
    gl.uniform1f(u.size, size * look.density);
    gl.uniform3fv(u.eye, look.eye);
    gl.uniform3fv(u.back, look.back);
    gl.uniform1i(u.parallel, look.parallel ? 1 : 0);
    gl.uniform1f(u.lens, look.lens);
    gl.uniform3f(u.ink, 0.06, 0.09, 0.11);
    gl.uniform3f(u.halo, 1, 1, 1);
    gl.uniform3f(u.accent, 0, 0.35, 0.75);
    this.instances(overlay, this.square, [3, 1]);
  }
}
