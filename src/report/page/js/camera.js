// Where the form is seen from: about a target, by turn (yaw), height (pitch) and distance.

const FIELD_OF_VIEW = (30 * Math.PI) / 180;
const FLIGHT_MILLISECONDS = 650;
const DEGREE = Math.PI / 180;

const NAMED_VIEWS = {
  "three-quarter": [35, 24], front: [0, 0], right: [90, 0], back: [180, 0], left: [-90, 0],
  top: [0, 90], below: [0, -90],
};

// The axes that point right, up and to the viewer in the front view.
const UPRIGHT = {
  y: [[1, 0, 0], [0, 1, 0], [0, 0, 1]],
  z: [[1, 0, 0], [0, 0, 1], [0, -1, 0]],
};

class Camera {
  constructor(points, up, changed) {
    this.points = points;
    this.changed = changed;
    this.axes = UPRIGHT[up];
    this.parallel = false;
    // What lies nearer than this before the target is cut away.
    this.cut = Infinity;
    this.aspect = 1;
    this.target = [0, 0, 0];
    this.distance = 4;
    [this.yaw, this.pitch] = NAMED_VIEWS["three-quarter"].map((x) => x * DEGREE);
    this.bound();
  }

  // A ball about the form.
  bound() {
    const low = [Infinity, Infinity, Infinity], high = [-Infinity, -Infinity, -Infinity];
    for (let i = 0; i < this.points.length; i++) {
      low[i % 3] = Math.min(low[i % 3], this.points[i]);
      high[i % 3] = Math.max(high[i % 3], this.points[i]);
    }
    const known = Number.isFinite(low[0]);
    this.centre = known ? times(add(low, high), 0.5) : [0, 0, 0];
    this.radius = (known && length(minus(high, low)) / 2) || 1;
  }

  direction(yaw = this.yaw, pitch = this.pitch) {
    const [right, up, front] = this.axes;
    const level = add(times(right, Math.sin(yaw)), times(front, Math.cos(yaw)));
    return add(times(level, Math.cos(pitch)), times(up, Math.sin(pitch)));
  }

  right(yaw = this.yaw) {
    const [right, , front] = this.axes;
    return minus(times(right, Math.cos(yaw)), times(front, Math.sin(yaw)));
  }

  get eye() { return add(this.target, times(this.direction(), this.distance)); }
  get halfHeight() { return this.distance * Math.tan(FIELD_OF_VIEW / 2); }

  // From the form's coordinates to clip space, and the axes of the view.
  look() {
    const back = this.direction(), right = this.right(), up = cross(back, right);
    const eye = this.eye;
    const view = Float32Array.of(
      right[0], up[0], back[0], 0, right[1], up[1], back[1], 0, right[2], up[2], back[2], 0,
      -dot(right, eye), -dot(up, eye), -dot(back, eye), 1,
    );
    const away = dot(minus(eye, this.centre), back), reach = 1.15 * this.radius;
    const far = Math.max(away + reach, this.distance * 1.1);
    const nearest = this.parallel ? Math.min(away - reach, 0) : Math.max(away - reach, this.distance / 60);
    const near = Math.max(nearest, this.distance - this.cut);
    const tall = this.parallel ? this.halfHeight : Math.tan(FIELD_OF_VIEW / 2);
    const depth = far - near;
    const lens = new Float32Array(16);
    lens[0] = 1 / (tall * this.aspect);
    lens[5] = 1 / tall;
    lens[10] = this.parallel ? -2 / depth : -(far + near) / depth;
    lens[11] = this.parallel ? 0 : -1;
    lens[14] = this.parallel ? -(far + near) / depth : (-2 * far * near) / depth;
    lens[15] = this.parallel ? 1 : 0;
    return { toClip: product(lens, view), eye, back, right, up, lens: tall, parallel: this.parallel };
  }

  turn(dx, dy) {
    this.stop();
    this.yaw -= dx;
    this.pitch = clamp(this.pitch + dy, -Math.PI / 2, Math.PI / 2);
    this.changed();
  }

  // Moves the form by shares of half the view's height, right and up.
  move(dx, dy) {
    this.stop();
    const right = this.right(), up = cross(this.direction(), right);
    this.target = minus(this.target, times(add(times(right, dx), times(up, dy)), this.halfHeight));
    this.changed();
  }

  // Comes closer (factor below 1) towards a place in the view, from -1 to 1.
  zoom(factor, x = 0, y = 0) {
    this.stop();
    const distance = clamp(this.distance * factor, this.radius / 500, this.radius * 30);
    const shift = 1 - distance / this.distance;
    this.move(-x * this.aspect * shift, -y * shift);
    this.distance = distance;
    this.changed();
  }

  // The distance and target from which all points are seen in a direction.
  whole(yaw, pitch) {
    const back = this.direction(yaw, pitch), right = this.right(yaw), up = cross(back, right);
    const spans = [right, up, back].map((axis) => {
      let low = Infinity, high = -Infinity;
      for (let i = 0; i < this.points.length; i += 3) {
        const x = axis[0] * this.points[i] + axis[1] * this.points[i + 1] + axis[2] * this.points[i + 2];
        if (x < low) low = x;
        if (x > high) high = x;
      }
      return low <= high ? [(low + high) / 2, (high - low) / 2] : [0, 1];
    });
    const [x, y, z] = spans;
    const tall = Math.tan(FIELD_OF_VIEW / 2);
    const fit = Math.max(y[1] / tall, x[1] / (tall * this.aspect)) * 1.14;
    const target = add(add(times(right, x[0]), times(up, y[0])), times(back, z[0]));
    return { target, distance: Math.max(fit + (this.parallel ? 0 : z[1] * 0.75), this.radius / 100), yaw, pitch };
  }

  frameAll() { this.fly(this.whole(this.yaw, this.pitch)); }

  named(name) {
    const [yaw, pitch] = NAMED_VIEWS[name].map((x) => x * DEGREE);
    this.fly(this.whole(yaw, pitch));
  }

  // How far off a ball is seen whole.
  distanceTo(radius) {
    const tall = Math.tan(FIELD_OF_VIEW / 2) * Math.min(1, this.aspect);
    return Math.max(radius / tall, this.radius / 60);
  }

  // Looks at a point from a distance in a direction; what is before it by more than `cut` is left out.
  flyTo(target, distance, direction, cut = Infinity) {
    const [right, up, front] = this.axes;
    const level = Math.hypot(dot(direction, right), dot(direction, front));
    const yaw = level > 0.05 ? Math.atan2(dot(direction, right), dot(direction, front)) : this.yaw;
    const pitch = Math.asin(clamp(dot(direction, up) / length(direction), -1, 1));
    this.fly({ target, distance, yaw, pitch, cut });
  }

  fly(goal) {
    this.stop();
    const from = { target: this.target, distance: this.distance, yaw: this.yaw, pitch: this.pitch };
    const round = 2 * Math.PI;
    const turn = ((((goal.yaw - from.yaw + Math.PI) % round) + round) % round) - Math.PI;
    const still = matchMedia("(prefers-reduced-motion: reduce)").matches;
    const begin = performance.now();
    this.cut = goal.cut ?? Infinity;
    const step = (now) => {
      const share = still ? 1 : clamp((now - begin) / FLIGHT_MILLISECONDS, 0, 1);
      const eased = share * share * (3 - 2 * share);
      this.target = from.target.map((x, k) => mix(x, goal.target[k], eased));
      this.distance = from.distance * (goal.distance / from.distance) ** eased;
      this.yaw = from.yaw + turn * eased;
      this.pitch = mix(from.pitch, goal.pitch, eased);
      this.flight = share < 1 ? requestAnimationFrame(step) : 0;
      this.changed();
    };
    step(begin);
  }

  stop() {
    if (this.flight) cancelAnimationFrame(this.flight);
    this.flight = 0;
  }
}
