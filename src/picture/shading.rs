//! The three ways that a form is shown: shaded, striped, and coloured by risk.
//!
//! Light is reckoned in linear light; [`encode`] makes it what a screen shows (IEC 61966-2-1,
//! sRGB).

use std::sync::OnceLock;

use super::canvas::Colour;
use crate::report::risk_colour;

/// Red, green and blue in linear light, 0 to 1.
pub type Light = [f32; 3];

/// How a form is shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Way {
    /// A neutral matt material under a soft light from the upper left and a dome of light.
    Shaded,
    /// Bright and dark stripes about the form, as a polished surface would mirror them.
    Striped,
    /// The risk as colour ([`risk_colour`]).
    ByRisk,
}

impl Way {
    /// All ways, in the order of their panels from the left.
    pub const ALL: [Self; 3] = [Self::Shaded, Self::Striped, Self::ByRisk];

    /// The way's name.
    pub fn name(self) -> &'static str {
        match self {
            Self::Shaded => "shaded",
            Self::Striped => "striped",
            Self::ByRisk => "by risk",
        }
    }
}

/// Share of the light that the material throws back.
const ALBEDO: f32 = 0.62;

/// Where the key light comes from, in the camera's axes (right, up, towards the viewer); its length
/// is 1.
const KEY: [f32; 3] = [-0.442, 0.615, 0.653];

/// By how much the key light reaches round the form, so that no side drowns in black.
const WRAP: f32 = 0.35;

/// Strengths of the key light, of the dome's top and of its bottom.
const KEY_LIGHT: f32 = 0.95;
const DOME_TOP: f32 = 0.42;
const DOME_BOTTOM: f32 = 0.16;

/// The direction along which the stripes follow each other, in the camera's axes; its length is 1.
/// It is slanted, so that no face of an upright box lies along a stripe.
const STRIPE_AXIS: [f32; 3] = [0.352, 0.820, -0.451];

/// Pairs of a bright and a dark stripe over the length of the axis from one end to the other of the
/// unit sphere of directions, halved. At either end is the middle of a stripe, not its edge.
const STRIPE_PAIRS: f32 = 5.75;

/// Linear light of the bright and of the dark stripe.
const BRIGHT: f32 = 0.88;
const DARK: f32 = 0.045;

/// Share of its light that a surface seen edge-on keeps where stripes or risk are shown.
const EDGE_ON: f32 = 0.55;

/// Steps that risks are told apart in where they are coloured.
const RISK_STEPS: usize = 1024;

/// A sample of the form as the eye sees it, in the camera's axes.
#[derive(Debug, Clone, Copy)]
pub struct Seen {
    /// Unit normal, towards the viewer's side.
    pub normal: [f32; 3],
    /// Unit direction to the viewer.
    pub viewer: [f32; 3],
    /// The risk.
    pub risk: f32,
}

impl Seen {
    fn facing(&self) -> f32 {
        dot(self.normal, self.viewer).clamp(0.0, 1.0)
    }

    /// Light of the matt material.
    pub fn shaded(&self) -> Light {
        let key = (dot(self.normal, KEY) + WRAP) / (1.0 + WRAP);
        let key = key.max(0.0);
        let height = 0.5 + 0.5 * self.normal[1];
        let dome = DOME_BOTTOM + (DOME_TOP - DOME_BOTTOM) * height;
        let light = ALBEDO * (KEY_LIGHT * key * key.sqrt() + dome);
        [light, light * 0.985, light * 0.955].map(|l| l.min(1.0))
    }

    /// Where in the row of stripes the mirrored view direction comes to lie: one bright and one dark
    /// stripe from whole number to whole number.
    pub fn stripe(&self) -> f32 {
        let twice = 2.0 * dot(self.normal, self.viewer).max(0.0);
        let mirrored: [f32; 3] = std::array::from_fn(|k| twice * self.normal[k] - self.viewer[k]);
        STRIPE_PAIRS * dot(mirrored, STRIPE_AXIS)
    }

    /// Light of the stripes where the share `bright` of them is bright ([`bright_share`]).
    pub fn striped(&self, bright: f32) -> Light {
        [(DARK + (BRIGHT - DARK) * bright) * self.softened(); 3]
    }

    /// Light of the risk's colour.
    pub fn by_risk(&self) -> Light {
        risk_light(self.risk).map(|l| l * self.softened())
    }

    fn softened(&self) -> f32 {
        EDGE_ON + (1.0 - EDGE_ON) * self.facing()
    }
}

fn dot(a: [f32; 3], b: [f32; 3]) -> f32 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

/// Share of bright stripe about the place `at` in a window of the given width: the mean of a wave
/// that is 1 over the first half of each period and 0 over the second.
pub fn bright_share(at: f32, width: f32) -> f32 {
    /// Narrowest window: below it the difference of the two sums is rounding.
    const WIDTH_MIN: f32 = 1e-3;
    /// Whole stripes by which places are moved to be positive, where casting rounds down.
    const SHIFT: f32 = 16.0;
    let width = width.max(WIDTH_MIN);
    // The wave summed up.
    let sum = |x: f32| {
        let whole = (x + SHIFT) as i32 as f32 - SHIFT;
        0.5 * whole + (x - whole).min(0.5)
    };
    ((sum(at + 0.5 * width) - sum(at - 0.5 * width)) / width).clamp(0.0, 1.0)
}

/// The light of a risk's colour.
fn risk_light(risk: f32) -> Light {
    static TABLE: OnceLock<Vec<Light>> = OnceLock::new();
    let table = TABLE.get_or_init(|| {
        (0..=RISK_STEPS)
            .map(|step| risk_colour(step as f64 / RISK_STEPS as f64).map(decode))
            .collect()
    });
    table[(risk.clamp(0.0, 1.0) * RISK_STEPS as f32 + 0.5) as usize]
}

/// Linear light of a channel that a screen shows, both from 0 to 1.
pub fn decode(shown: f32) -> f32 {
    if shown <= 0.040_45 {
        shown / 12.92
    } else {
        ((shown + 0.055) / 1.055).powf(2.4)
    }
}

/// Linear light of a colour.
pub fn decode_colour(colour: Colour) -> Light {
    colour.map(|c| decode(f32::from(c) / 255.0))
}

/// What a screen shows of linear light.
pub fn encode(light: Light) -> Colour {
    /// Steps of the table: in the darkest, where a screen's levels lie closest, two to a level.
    const STEPS: usize = 8192;
    static TABLE: OnceLock<Vec<u8>> = OnceLock::new();
    let table = TABLE.get_or_init(|| {
        let level = |step| (255.0 * shown(step as f32 / STEPS as f32)).round() as u8;
        (0..=STEPS).map(level).collect()
    });
    light.map(|l| table[(l.clamp(0.0, 1.0) * STEPS as f32 + 0.5) as usize])
}

fn shown(light: f32) -> f32 {
    if light <= 0.003_130_8 {
        12.92 * light
    } else {
        1.055 * light.powf(1.0 / 2.4) - 0.055
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn directions_have_length_one() {
        for direction in [KEY, STRIPE_AXIS] {
            assert!((dot(direction, direction) - 1.0).abs() < 2e-3);
        }
    }

    #[test]
    fn a_wide_window_over_the_stripes_is_half_bright() {
        assert!((bright_share(0.37, 4.0) - 0.5).abs() < 1e-5);
        assert_eq!(bright_share(0.25, 0.1), 1.0);
        assert_eq!(bright_share(0.75, 0.1), 0.0);
        assert_eq!(bright_share(-0.25, 0.1), 0.0);
        assert!((bright_share(3.0, 0.2) - 0.5).abs() < 1e-3);
        assert!((bright_share(-5.9, 0.1) - 1.0).abs() < 1e-4);
    }

    #[test]
    fn a_colour_survives_decoding_and_encoding() {
        for level in 0..=255 {
            assert_eq!(encode(decode_colour([level; 3])), [level; 3]);
        }
    }
}
