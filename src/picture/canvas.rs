//! A picture as an array of pixels, and drawing on it: rectangles, strokes, circles.

/// Red, green and blue as a screen shows them (sRGB), 0 to 255.
pub type Colour = [u8; 3];

/// A place on a canvas, in pixels: x to the right, y down, from the upper left corner. Whole
/// numbers lie on the lines between pixels.
pub type Point = [f32; 2];

/// A picture of 8 bits a channel.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Canvas {
    width: usize,
    height: usize,
    pixels: Vec<Colour>,
}

/// The share of a pixel that a stroke covers whose middle line is `distance` pixels away from the
/// pixel's middle.
pub fn stroke_coverage(distance: f32, width: f32) -> f32 {
    (0.5 * width + 0.5 - distance).clamp(0.0, 1.0)
}

/// The place on the segment from `a` to `b` that is nearest to `p`, as a share of the way, and its
/// distance from `p`.
pub fn nearest_on_segment(a: Point, b: Point, p: Point) -> (f32, f32) {
    let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
    let length_squared = dx * dx + dy * dy;
    let along = (p[0] - a[0]) * dx + (p[1] - a[1]) * dy;
    let share = if length_squared > 0.0 {
        (along / length_squared).clamp(0.0, 1.0)
    } else {
        0.0
    };
    let distance = (a[0] + dx * share - p[0]).hypot(a[1] + dy * share - p[1]);
    (share, distance)
}

impl Canvas {
    /// A canvas of one colour.
    pub fn new(width: usize, height: usize, colour: Colour) -> Self {
        Self {
            width,
            height,
            pixels: vec![colour; width * height],
        }
    }

    /// Width in pixels.
    pub fn width(&self) -> usize {
        self.width
    }

    /// Height in pixels.
    pub fn height(&self) -> usize {
        self.height
    }

    /// The pixels, row by row from above, each row from the left.
    pub fn pixels(&self) -> &[Colour] {
        &self.pixels
    }

    /// The colour of a pixel; `None` off the canvas.
    pub fn pixel(&self, x: usize, y: usize) -> Option<Colour> {
        let inside = x < self.width && y < self.height;
        inside.then(|| self.pixels[y * self.width + x])
    }

    /// Sets a pixel; nothing happens off the canvas.
    pub fn set(&mut self, x: usize, y: usize, colour: Colour) {
        if x < self.width && y < self.height {
            self.pixels[y * self.width + x] = colour;
        }
    }

    /// Lays a colour over a pixel that covers the share `alpha` of it.
    pub fn blend(&mut self, x: usize, y: usize, colour: Colour, alpha: f32) {
        let Some(under) = self.pixel(x, y) else {
            return;
        };
        let mixed = std::array::from_fn(|k| {
            let (low, high) = (f32::from(under[k]), f32::from(colour[k]));
            (low + (high - low) * alpha + 0.5) as u8
        });
        self.set(x, y, mixed);
    }

    /// Fills the rectangle of the given corner, width and height.
    pub fn fill(&mut self, [x, y]: [usize; 2], [width, height]: [usize; 2], colour: Colour) {
        for row in y..y + height {
            for column in x..x + width {
                self.set(column, row, colour);
            }
        }
    }

    /// Draws a line of lines, each joint round.
    pub fn stroke(&mut self, points: &[Point], width: f32, colour: Colour) {
        let distance = |p: Point| {
            let pairs = points.windows(2);
            let each = pairs.map(|pair| nearest_on_segment(pair[0], pair[1], p).1);
            each.fold(f32::INFINITY, f32::min)
        };
        let low = bound(points, f32::INFINITY, f32::min);
        let high = bound(points, f32::NEG_INFINITY, f32::max);
        self.cover(low, high, width, colour, distance);
    }

    /// Draws a circle.
    pub fn circle(&mut self, centre: Point, radius: f32, width: f32, colour: Colour) {
        let distance = |p: Point| ((p[0] - centre[0]).hypot(p[1] - centre[1]) - radius).abs();
        let [low, high] = [-radius, radius].map(|r| centre.map(|c| c + r));
        self.cover(low, high, width, colour, distance);
    }

    /// Draws a stroke that lies between `low` and `high`, from the distance of its middle line.
    fn cover(
        &mut self,
        low: Point,
        high: Point,
        width: f32,
        colour: Colour,
        distance: impl Fn(Point) -> f32,
    ) {
        let reach = 0.5 * width + 1.0;
        let limits = [self.width, self.height];
        // Casting takes what lies before the canvas to its edge.
        let first: [usize; 2] = std::array::from_fn(|k| (low[k] - reach) as usize);
        let last: [usize; 2] =
            std::array::from_fn(|k| ((high[k] + reach).ceil() as usize).min(limits[k]));
        for y in first[1]..last[1] {
            for x in first[0]..last[0] {
                let middle = [x as f32 + 0.5, y as f32 + 0.5];
                let alpha = stroke_coverage(distance(middle), width);
                if alpha > 0.0 {
                    self.blend(x, y, colour, alpha);
                }
            }
        }
    }
}

fn bound(points: &[Point], start: f32, choose: impl Fn(f32, f32) -> f32) -> Point {
    std::array::from_fn(|k| points.iter().map(|p| p[k]).fold(start, &choose))
}
