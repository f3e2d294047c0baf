// The colour scale: a histogram of the shown figure, with two grips that set its limits.

const BAR_COUNT = 64;

class Scale {
  constructor(view, stops) {
    this.view = view;
    this.stops = stops;
    this.canvas = byId("bars");
    this.grips = [byId("grip-low"), byId("grip-high")];
    this.grips.forEach((grip, k) => {
      grip.addEventListener("keydown", (event) => this.key(event, k));
      grip.addEventListener("pointerdown", (event) => this.grab(event, k));
    });
    byId("histogram").addEventListener("pointerdown", (event) => {
      if (event.target === this.canvas) this.grab(event, this.nearestGrip(this.valueAt(event)));
    });
    byId("scale-reset").addEventListener("click", () => this.setLimits(...this.wide));
    new ResizeObserver(() => this.paint()).observe(this.canvas);
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => this.paint());
  }

  // Shows a figure's values.
  set(figure, values) {
    this.figure = figure;
    const known = Array.from(values).filter(Number.isFinite).sort((a, b) => a - b);
    this.known = known;
    const risky = figure.kind !== "measure";
    const low = risky ? 0 : known[0] ?? 0;
    let high = risky ? 1 : known[known.length - 1] ?? 1;
    if (!(high > low)) high = low + (Math.abs(low) || 1);
    this.wide = [low, high];
    this.bars = new Array(BAR_COUNT).fill(0);
    for (const x of known) {
      this.bars[clamp(Math.floor(((x - low) / (high - low)) * BAR_COUNT), 0, BAR_COUNT - 1)]++;
    }
    byId("scale").hidden = false;
    byId("scale-title").textContent = figure.name;
    byId("scale-tells").textContent = `${figure.tells} (${figure.range})`;
    byId("scale-unit").textContent = figure.unit;
    const missing = values.length - known.length;
    this.note = `Height of the bars: number of vertices (square root).` +
      (missing ? ` Undefined, hatched: ${counted(missing, "vertex", "vertices")}.` : "");
    // A few extreme values must not leave the rest one colour.
    const most = known[Math.floor(0.98 * (known.length - 1))];
    this.setLimits(low, risky || !(most > low) ? high : most);
  }

  setLimits(low, high) {
    const [least, most] = this.wide, gap = (most - least) / 1000;
    this.limits = [clamp(low, least, most - gap), clamp(high, least + gap, most)];
    if (this.limits[1] < this.limits[0] + gap) this.limits[1] = this.limits[0] + gap;
    this.view.show.limits = this.limits;
    this.paint();
    this.view.request();
  }

  share(value) { return (value - this.wide[0]) / (this.wide[1] - this.wide[0]); }

  valueAt(event) {
    const box = this.canvas.getBoundingClientRect();
    return mix(...this.wide, clamp((event.clientX - box.left) / box.width, 0, 1));
  }

  nearestGrip(value) {
    return Math.abs(value - this.limits[0]) < Math.abs(value - this.limits[1]) ? 0 : 1;
  }

  put(k, value) {
    const [low, high] = this.limits, gap = (this.wide[1] - this.wide[0]) / 1000;
    if (k === 0) this.setLimits(Math.min(value, high - gap), high);
    else this.setLimits(low, Math.max(value, low + gap));
  }

  grab(event, k) {
    event.preventDefault();
    const grip = this.grips[k];
    grip.focus({ preventScroll: true });
    grip.setPointerCapture(event.pointerId);
    this.put(k, this.valueAt(event));
    const move = (moved) => this.put(k, this.valueAt(moved));
    const end = () => {
      grip.removeEventListener("pointermove", move);
      grip.removeEventListener("pointerup", end);
      grip.removeEventListener("pointercancel", end);
    };
    grip.addEventListener("pointermove", move);
    grip.addEventListener("pointerup", end);
    grip.addEventListener("pointercancel", end);
  }

  key(event, k) {
    const steps = { ArrowLeft: -1, ArrowDown: -1, ArrowRight: 1, ArrowUp: 1, PageDown: -10, PageUp: 10 };
    const step = steps[event.key];
    const end = { Home: this.wide[0], End: this.wide[1] }[event.key];
    if (step === undefined && end === undefined) return;
    event.preventDefault();
    this.put(k, end ?? this.limits[k] + (step * (this.wide[1] - this.wide[0])) / 100);
  }

  paint() {
    if (!this.bars) return;
    const [low, high] = this.limits;
    const density = Math.min(devicePixelRatio || 1, 2);
    const { clientWidth, clientHeight } = this.canvas;
    this.canvas.width = clientWidth * density;
    this.canvas.height = clientHeight * density;
    const pen = this.canvas.getContext("2d");
    pen.scale(density, density);
    const strip = 14, tallest = Math.sqrt(Math.max(...this.bars, 1));
    const shade = (share) => cssColour(colourAt(this.stops, (mix(...this.wide, share) - low) / (high - low)));
    for (let x = 0; x < clientWidth; x++) {
      pen.fillStyle = shade(x / clientWidth);
      pen.fillRect(x, clientHeight - strip, 1.5, strip);
    }
    const width = clientWidth / BAR_COUNT;
    pen.fillStyle = getComputedStyle(this.canvas).color;
    pen.globalAlpha = 0.62;
    this.bars.forEach((count, k) => {
      const height = count ? Math.max(1.5, (Math.sqrt(count) / tallest) * (clientHeight - strip - 6)) : 0;
      pen.fillRect(k * width + 0.5, clientHeight - strip - 2 - height, Math.max(width - 1, 1), height);
    });
    this.grips.forEach((grip, k) => {
      grip.style.left = `${100 * this.share(this.limits[k])}%`;
      grip.setAttribute("aria-valuemin", this.wide[0]);
      grip.setAttribute("aria-valuemax", this.wide[1]);
      grip.setAttribute("aria-valuenow", this.limits[k]);
      grip.setAttribute("aria-valuetext", written(this.limits[k], this.figure.unit));
    });
    // What is next to nothing beside the rest of the range reads as nothing.
    const plain = (x) => written(Math.abs(x) < 1e-6 * (this.wide[1] - this.wide[0]) ? 0 : x);
    byId("end-low").textContent = `${plain(low)}${low > this.wide[0] ? " and less" : ""}`;
    byId("end-high").textContent = `${plain(high)}${high < this.wide[1] ? " and more" : ""}`;
    const inside = this.known.filter((x) => x >= low && x <= high).length;
    byId("scale-note").textContent = `${this.note} Between the limits: ${counted(inside, "vertex", "vertices")}.`;
  }
}
