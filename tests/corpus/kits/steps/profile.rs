//! Profiles of turned parts and of tubes: radius over height, by chance.

use super::Chance;
use crate::support::cages::Random;

/// A profile under way, from the bottom up.
pub struct Profile {
    /// Radius and height of each ring.
    pub rings: Vec<[f64; 2]>,
    /// Distance of support rings.
    pub tight: f64,
}

impl Profile {
    /// A straight wall of one ring.
    pub fn new(radius: f64, tight: f64) -> Self {
        Self {
            rings: vec![[radius, 0.0]],
            tight,
        }
    }

    /// Radius and height of the last ring.
    pub fn end(&self) -> [f64; 2] {
        self.rings[self.rings.len() - 1]
    }

    /// Straight up by `length` over unevenly spaced rings, to another radius.
    pub fn wall(&mut self, random: &mut Random, length: f64, radius: f64, gaps: usize) {
        let [r, z] = self.end();
        let stations = random.stations(gaps, 3.0);
        let ring = |t: &f64| [r + (radius - r) * t, z + length * t];
        self.rings.extend(stations[1..].iter().map(ring));
    }

    /// A shoulder to another radius, both its edges held.
    pub fn shoulder(&mut self, radius: f64) {
        let [r, z] = self.end();
        let e = self.tight.copysign(radius - r);
        let up = self.tight;
        self.rings.extend([[r, z + up], [r + e, z + up]]);
        self.rings.extend([
            [radius - e, z + up],
            [radius, z + up],
            [radius, z + 2.0 * up],
        ]);
    }

    /// A bead or a groove: out by `depth` (in, if negative) and back, all four edges held.
    pub fn bead(&mut self, depth: f64, width: f64) {
        let radius = self.end()[0];
        self.shoulder(radius + depth);
        let end = self.end();
        self.rings.push([end[0], end[1] + width]);
        self.shoulder(radius);
    }

    /// A soft belly or waist.
    pub fn belly(&mut self, depth: f64, length: f64) {
        const GAPS: usize = 7;
        let [r, z] = self.end();
        for k in 1..=GAPS {
            let t = k as f64 / GAPS as f64;
            let swell = (std::f64::consts::PI * t).sin().powi(2);
            self.rings.push([r + depth * swell, z + length * t]);
        }
    }

    /// Two rings close together on a straight wall.
    pub fn double_ring(&mut self, length: f64) {
        let [r, z] = self.end();
        let middle = z + length / 2.0;
        self.rings
            .extend([[r, middle], [r, middle + self.tight], [r, z + length]]);
    }

    /// Pieces by chance.
    pub fn drawn(random: &mut Random, pieces: usize) -> Self {
        let mut made = Self::new(random.between(0.5, 1.2), random.between(0.02, 0.05));
        let (length, gaps) = (random.between(0.2, 0.6), random.whole(1, 3));
        made.wall(random, length, made.end()[0], gaps);
        for _ in 0..pieces {
            made.piece(random);
            let (length, gaps) = (random.between(0.2, 0.6), random.whole(1, 3));
            made.wall(random, length, made.end()[0], gaps);
        }
        made
    }

    fn piece(&mut self, random: &mut Random) {
        let radius = self.end()[0];
        let other = if radius > 0.9 || (radius > 0.5 && random.chance(0.5)) {
            radius * random.between(0.55, 0.8)
        } else {
            radius * random.between(1.25, 1.7)
        };
        match random.below(6) {
            0 | 1 => self.shoulder(other),
            2 => {
                let deep = random.between(0.12, 0.25) * random.pick(&[-1.0, 1.0]);
                let wide = random.between(0.08, 0.3);
                self.bead(deep * radius.min(0.7), wide);
            }
            3 => {
                let deep = random.between(-0.2, 0.3) * radius;
                let length = random.between(1.2, 2.0);
                self.belly(deep, length);
            }
            4 => self.double_ring(random.between(0.3, 0.6)),
            _ => {
                let length = random.between(0.6, 1.0);
                let near = radius + (other - radius).clamp(-0.25, 0.25);
                self.wall(random, length, near, 1);
            }
        }
    }

    /// Turns inward over both ends with held rims, down to the share `left` of the radius there.
    pub fn closed(mut self, left: f64) -> Self {
        let e = self.tight;
        let [r, z] = self.end();
        self.rings
            .extend([[r, z + e], [r - e, z + e], [r * (left + 1.0) / 2.0, z + e]]);
        self.rings.push([r * left, z + e]);
        let [r, z] = self.rings[0];
        let below = [
            [r * left, z - e],
            [r * (left + 1.0) / 2.0, z - e],
            [r - e, z - e],
            [r, z - e],
        ];
        self.rings.splice(0..0, below);
        self
    }

    /// Turns inward over both ends and comes back down inside, at the share `bore` of the smallest
    /// radius: a ring closed in itself.
    pub fn bored(mut self, bore: f64) -> Self {
        let e = self.tight;
        let inner = bore
            * self
                .rings
                .iter()
                .map(|p| p[0])
                .fold(f64::INFINITY, f64::min);
        let ([r, z], [low_r, low_z]) = (self.end(), self.rings[0]);
        self.rings.extend([
            [r, z + e],
            [r - e, z + e],
            [inner + e, z + e],
            [inner, z + e],
        ]);
        self.rings
            .extend([[inner, z], [inner, z * 0.6 + low_z * 0.4], [inner, low_z]]);
        self.rings
            .extend([[inner, low_z - e], [inner + e, low_z - e]]);
        self.rings
            .extend([[low_r - e, low_z - e], [low_r, low_z - e]]);
        self
    }
}
