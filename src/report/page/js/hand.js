// Mouse, pen, touch and keys on the view.

const TURN_PER_PIXEL = 0.0075;
const KEY_TURN = 6 * DEGREE;
const KEY_MOVE = 0.12;
const HOVER_REACH = 14;
const CLICK_SLACK = 5;

class Hand {
  // `told` hears of the vertex under the pointer (`pointed`), of a click on one (`picked`), and of
  // steps through the places (`step`).
  constructor(view, told) {
    this.view = view;
    this.told = told;
    this.pointers = new Map();
    const canvas = view.canvas;
    canvas.addEventListener("pointerdown", (event) => this.down(event));
    canvas.addEventListener("pointermove", (event) => this.moved(event));
    canvas.addEventListener("pointerup", (event) => this.up(event));
    canvas.addEventListener("pointercancel", (event) => this.forget(event));
    canvas.addEventListener("pointerleave", () => { if (!this.pointers.size) told.pointed(null); });
    canvas.addEventListener("contextmenu", (event) => event.preventDefault());
    canvas.addEventListener("wheel", (event) => this.wheel(event), { passive: false });
    canvas.addEventListener("keydown", (event) => this.key(event));
  }

  place(event) {
    const box = this.view.canvas.getBoundingClientRect();
    return [event.clientX - box.left, event.clientY - box.top];
  }

  down(event) {
    this.view.canvas.setPointerCapture(event.pointerId);
    this.view.canvas.focus({ preventScroll: true });
    this.pointers.set(event.pointerId, this.place(event));
    this.travelled = this.pointers.size > 1 ? Infinity : 0;
    this.moving = event.button === 2 || event.button === 1 || event.shiftKey;
    this.told.pointed(null);
  }

  moved(event) {
    const now = this.place(event), before = this.pointers.get(event.pointerId);
    if (!before) {
      if (event.pointerType !== "touch") this.hover(now);
      return;
    }
    const [dx, dy] = [now[0] - before[0], now[1] - before[1]];
    this.travelled += Math.hypot(dx, dy);
    if (this.pointers.size === 1) {
      this.pointers.set(event.pointerId, now);
      if (this.travelled < CLICK_SLACK) return;
      if (this.moving) this.shift(dx, dy);
      else this.view.camera.turn(dx * TURN_PER_PIXEL, dy * TURN_PER_PIXEL);
      return;
    }
    const others = Array.from(this.pointers.keys()).filter((id) => id !== event.pointerId);
    const other = this.pointers.get(others[0]);
    const apart = (p) => Math.max(Math.hypot(p[0] - other[0], p[1] - other[1]), 10);
    this.pointers.set(event.pointerId, now);
    this.shift(dx / 2, dy / 2);
    this.zoomAt(apart(before) / apart(now), [(now[0] + other[0]) / 2, (now[1] + other[1]) / 2]);
  }

  shift(dx, dy) {
    const half = this.view.canvas.clientHeight / 2;
    this.view.camera.move(dx / half, -dy / half);
  }

  zoomAt(factor, [x, y]) {
    const { clientWidth, clientHeight } = this.view.canvas;
    this.view.camera.zoom(factor, (2 * x) / clientWidth - 1, 1 - (2 * y) / clientHeight);
  }

  up(event) {
    const place = this.pointers.get(event.pointerId);
    if (place && this.travelled < CLICK_SLACK && event.button === 0) {
      const reach = event.pointerType === "touch" ? 2 * HOVER_REACH : HOVER_REACH;
      const v = this.view.vertexNear(...place, reach);
      if (v !== null) this.told.picked(v);
    }
    this.forget(event);
  }

  forget(event) { this.pointers.delete(event.pointerId); }

  hover(place) {
    this.hovered = place;
    if (this.hovering) return;
    this.hovering = requestAnimationFrame(() => {
      this.hovering = 0;
      if (!this.pointers.size) this.told.pointed(this.view.vertexNear(...this.hovered, HOVER_REACH), this.hovered);
    });
  }

  wheel(event) {
    event.preventDefault();
    const lines = event.deltaMode === 1 ? 16 : event.deltaMode === 2 ? 400 : 1;
    this.zoomAt(Math.exp(clamp(event.deltaY * lines, -300, 300) * 0.0016), this.place(event));
  }

  key(event) {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const camera = this.view.camera;
    const arrows = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };
    const views = Object.keys(NAMED_VIEWS);
    if (arrows[event.key]) {
      const [x, y] = arrows[event.key];
      if (event.shiftKey) camera.move(x * KEY_MOVE, y * KEY_MOVE);
      else camera.turn(x * KEY_TURN, -y * KEY_TURN);
    } else if (event.key === "+" || event.key === "=") camera.zoom(0.85);
    else if (event.key === "-" || event.key === "_") camera.zoom(1 / 0.85);
    else if (event.key === "Home") camera.frameAll();
    else if (event.key === ",") this.told.step(-1);
    else if (event.key === ".") this.told.step(1);
    else if (views[Number(event.key) - 1]) camera.named(views[Number(event.key) - 1]);
    else return;
    event.preventDefault();
  }
}
