//! One view of a form, seen in all ways at once.

use rayon::prelude::*;
use smallvec::SmallVec;

use super::camera::{Camera, Projected};
use super::canvas::{Colour, nearest_on_segment, stroke_coverage};
use super::form::Form;
use super::raster::{Band, Outline, SAMPLES, sample_point};
use super::shading::{Light, Seen, Way, bright_share, decode_colour};

/// Rows of pixels that one parallel task draws.
const BAND_ROWS: usize = 32;

/// Where a pixel's samples spread over more stripes than this, one of them at least lies on the
/// other side of an edge of the form, and the spread says nothing of the stripes' width.
const SPREAD_MAX: f32 = 1.0;

/// The pixels of a view.
#[derive(Debug, Clone)]
pub struct Panel {
    side: usize,
    /// Light of each pixel in each way, row by row.
    lights: Vec<[Light; Way::ALL.len()]>,
    /// How near the nearest sample of each pixel is; minus infinity where there is nothing.
    nearness: Vec<f32>,
}

/// What each vertex of the form is in a view.
struct Scene<'a> {
    form: &'a Form,
    camera: &'a Camera,
    corners: Vec<Option<Projected>>,
    normals: Vec<[f32; 3]>,
}

impl Panel {
    /// Draws a form into a square of `side` pixels over a plain background.
    pub fn draw(form: &Form, camera: &Camera, side: usize, background: Colour) -> Self {
        let project = |&p| camera.project(p);
        let turn = |&n| camera.axes().turn(n).map(|c| c as f32);
        let scene = Scene {
            form,
            camera,
            corners: form.positions.par_iter().map(project).collect(),
            normals: form.normals.par_iter().map(turn).collect(),
        };
        let in_bands = scene.triangles_by_band(side);
        let background = decode_colour(background);
        let bands: Vec<Vec<(f32, [Light; 3])>> = in_bands
            .into_par_iter()
            .enumerate()
            .map(|(b, triangles)| {
                let first = b * BAND_ROWS;
                let rows = BAND_ROWS.min(side - first);
                scene.draw_band(&triangles, side, first..first + rows, background)
            })
            .collect();
        let pixels = bands.into_iter().flatten();
        let (nearness, lights) = pixels.unzip();
        Self {
            side,
            lights,
            nearness,
        }
    }

    /// Side in pixels.
    pub fn side(&self) -> usize {
        self.side
    }

    /// The light of a pixel in a way.
    pub fn light(&self, way: Way, x: usize, y: usize) -> Light {
        self.lights[y * self.side + x][way as usize]
    }

    /// Whether nothing of the form is seen.
    pub fn is_blank(&self) -> bool {
        self.nearness.iter().all(|&near| near == f32::NEG_INFINITY)
    }

    /// Whether a point that is lifted off the surface a little is seen.
    pub fn shows(&self, p: &Projected) -> bool {
        let inside = |x: f64| x >= 0.0 && x < self.side as f64;
        let slot = || p.y as usize * self.side + p.x as usize;
        inside(p.x) && inside(p.y) && p.nearness as f32 >= self.nearness[slot()]
    }

    /// Lays lines over the surface, wherever it doesn't hide them. Where several cover a pixel
    /// they count as one, so that joints don't stand out.
    pub fn overlay(&mut self, lines: &[[Projected; 2]], width: f32, colour: Colour, strength: f32) {
        let mut covered = vec![0.0f32; self.lights.len()];
        for [a, b] in lines {
            let [from, to] = [a, b].map(|p| [p.x as f32, p.y as f32]);
            let [rows, columns] = [1, 0].map(|axis| {
                let reach = 0.5 * width + 1.0;
                let low = (from[axis].min(to[axis]) - reach) as usize;
                let high = (from[axis].max(to[axis]) + reach).ceil() as usize;
                low..high.min(self.side)
            });
            for y in rows {
                for x in columns.clone() {
                    let middle = [x as f32 + 0.5, y as f32 + 0.5];
                    let (share, distance) = nearest_on_segment(from, to, middle);
                    let share = f64::from(share);
                    let near = a.nearness + (b.nearness - a.nearness) * share;
                    let slot = y * self.side + x;
                    if near as f32 >= self.nearness[slot] {
                        covered[slot] = covered[slot].max(stroke_coverage(distance, width));
                    }
                }
            }
        }
        let ink = decode_colour(colour);
        for (lights, covered) in self.lights.iter_mut().zip(covered) {
            let alpha = covered * strength;
            for light in lights.iter_mut().flat_map(|l| l.iter_mut().zip(ink)) {
                *light.0 += (light.1 - *light.0) * alpha;
            }
        }
    }
}

impl Scene<'_> {
    /// The outline of a triangle; `None` where there is no such triangle
    /// ([`NOTHING`](super::raster::NOTHING)) and where nothing of it can be seen.
    fn outline(&self, triangle: usize) -> Option<Outline> {
        let [a, b, c] = self
            .form
            .triangles
            .get(triangle)?
            .map(|v| self.corners[v as usize].as_ref());
        Outline::new([a?, b?, c?])
    }

    /// The triangles that each band of rows may show.
    fn triangles_by_band(&self, side: usize) -> Vec<Vec<u32>> {
        let mut bands = vec![Vec::new(); side.div_ceil(BAND_ROWS)];
        for t in 0..self.form.triangles.len() {
            let Some(outline) = self.outline(t) else {
                continue;
            };
            let rows = outline.rows(side);
            if !rows.is_empty() {
                let touched = rows.start / BAND_ROWS..=(rows.end - 1) / BAND_ROWS;
                bands[touched].iter_mut().for_each(|b| b.push(t as u32));
            }
        }
        bands
    }

    fn draw_band(
        &self,
        triangles: &[u32],
        side: usize,
        rows: std::ops::Range<usize>,
        background: Light,
    ) -> Vec<(f32, [Light; 3])> {
        let mut band = Band::new(side, rows.start, rows.len());
        for &t in triangles {
            if let Some(outline) = self.outline(t as usize) {
                band.draw(t, &outline);
            }
        }
        let mut pixels = Vec::with_capacity(side * rows.len());
        for y in rows {
            for x in 0..side {
                pixels.push(self.pixel(&band, x, y, background));
            }
        }
        pixels
    }

    /// How near a pixel's nearest sample is, and its light in every way.
    fn pixel(&self, band: &Band, x: usize, y: usize, background: Light) -> (f32, [Light; 3]) {
        let (triangles, nearness) = band.pixel(x, y);
        let nearest = nearness.iter().copied().fold(f32::NEG_INFINITY, f32::max);
        if nearest == f32::NEG_INFINITY {
            return (nearest, [background; 3]);
        }
        let mut sums = [[0.0; 3]; 3];
        let mut add = |lights: [Light; 3], samples: f32| {
            let share = samples / SAMPLES as f32;
            for (sum, light) in sums
                .as_flattened_mut()
                .iter_mut()
                .zip(lights.as_flattened())
            {
                *sum += light * share;
            }
        };
        let asked = self.asked(triangles, [x, y], |count| add([background; 3], count));
        let stripes: SmallVec<[f32; SAMPLES]> =
            asked.iter().map(|(seen, _)| seen.stripe()).collect();
        let [low, high] = [
            stripes.iter().copied().fold(f32::INFINITY, f32::min),
            stripes.iter().copied().fold(f32::NEG_INFINITY, f32::max),
        ];
        let spread = (high - low).clamp(0.0, SPREAD_MAX);
        for ((seen, samples), stripe) in asked.iter().zip(stripes) {
            let bright = bright_share(stripe, spread);
            add(
                [seen.shaded(), seen.striped(bright), seen.by_risk()],
                *samples,
            );
        }
        (nearest, sums)
    }

    /// What is seen at a pixel's samples, and for how many samples each stands: where a triangle
    /// covers several in a row, three of them stand for all. `nothing` is told the number of
    /// samples that see nothing.
    fn asked(
        &self,
        triangles: &[u32],
        [x, y]: [usize; 2],
        mut nothing: impl FnMut(f32),
    ) -> SmallVec<[(Seen, f32); SAMPLES]> {
        let mut asked = SmallVec::new();
        let mut first = 0;
        for run in triangles.chunk_by(|a, b| a == b) {
            let count = run.len();
            let Some(outline) = self.outline(run[0] as usize) else {
                nothing(count as f32);
                first += count;
                continue;
            };
            let chosen = count.min(3);
            for k in 0..chosen {
                let sample = first + k * (count - 1) / (chosen - 1).max(1);
                let seen = self.seen(run[0] as usize, &outline, [x, y, sample]);
                asked.push((seen, count as f32 / chosen as f32));
            }
            first += count;
        }
        asked
    }

    /// What is seen of a triangle, whose outline is given, at a sample that it covers: column, row
    /// and number of the sample.
    fn seen(&self, triangle: usize, outline: &Outline, [x, y, sample]: [usize; 3]) -> Seen {
        let corners = outline.ordered(self.form.triangles[triangle]);
        let mix = outline.mix(x, y, sample);
        let mut normal = [0.0; 3];
        let mut risk = 0.0;
        for (corner, share) in corners.into_iter().zip(mix) {
            let own = self.normals[corner as usize];
            normal
                .iter_mut()
                .zip(own)
                .for_each(|(n, o)| *n += share * o);
            risk += share * self.form.risks[corner as usize];
        }
        let length = normal.iter().map(|n| n * n).sum::<f32>().sqrt();
        let turned = if outline.from_behind { -1.0 } else { 1.0 };
        let normal = if length > 0.0 {
            normal.map(|n| turned * n / length)
        } else {
            [0.0, 0.0, 1.0]
        };
        let [px, py] = sample_point(x, y, sample);
        Seen {
            normal,
            viewer: self.camera.towards_viewer(px, py),
            risk,
        }
    }
}
