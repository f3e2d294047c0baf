//! Risk as a colour.

/// Risks and their colours; between them, and no colour is a stop of any other kind.
///
/// Lightness falls from stop to stop, so that the order reads without hues, and the hues run from
/// grey over yellow to purple: no step needs red to be told from green.
pub(super) const STOPS: [(f64, [f32; 3]); 5] = [
    (0.0, [0.86, 0.86, 0.85]),
    (0.25, [0.80, 0.80, 0.76]),
    (0.5, [0.95, 0.68, 0.20]),
    (0.75, [0.80, 0.26, 0.36]),
    (1.0, [0.42, 0.04, 0.38]),
];

/// The colour of a risk: red, green and blue in [0, 1], as a screen shows them (sRGB). Light grey
/// for what is clean, over amber where a fault shows (0.5), to dark magenta at 1; mixed linearly
/// between the stops. Risks outside [0, 1] count as the nearer end, and NaN as 0.
pub fn risk_colour(risk: f64) -> [f32; 3] {
    let risk = risk.clamp(0.0, 1.0);
    for pair in STOPS.windows(2) {
        let [(low, from), (high, to)] = [pair[0], pair[1]];
        if risk <= high {
            let share = ((risk - low) / (high - low)) as f32;
            return std::array::from_fn(|k| from[k] + (to[k] - from[k]) * share);
        }
    }
    STOPS[0].1
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Relative luminance of an sRGB colour (IEC 61966-2-1; weights of ITU-R BT.709).
    fn luminance(colour: [f32; 3]) -> f32 {
        let linear = colour.map(|c| {
            if c <= 0.04045 {
                c / 12.92
            } else {
                ((c + 0.055) / 1.055).powf(2.4)
            }
        });
        0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
    }

    #[test]
    fn a_higher_risk_is_never_lighter() {
        let shades: Vec<f32> = (0..=100)
            .map(|percent| luminance(risk_colour(f64::from(percent) / 100.0)))
            .collect();
        assert!(shades.windows(2).all(|pair| pair[1] < pair[0]));
    }

    #[test]
    fn what_is_no_risk_is_clean() {
        assert_eq!(risk_colour(f64::NAN), risk_colour(0.0));
        assert_eq!(risk_colour(-1.0), risk_colour(0.0));
        assert_eq!(risk_colour(7.0), risk_colour(1.0));
    }
}
