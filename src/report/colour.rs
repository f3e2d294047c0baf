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

    /// What eyes without one of the three kinds of cones make of a colour, in linear light: protan,
    /// deutan, tritan (Machado, Oliveira & Fernandes 2009, severity 1).
    const MISSING_CONES: [[[f32; 3]; 3]; 3] = [
        [
            [0.152286, 1.052583, -0.204868],
            [0.114503, 0.786281, 0.099216],
            [-0.003882, -0.048116, 1.051998],
        ],
        [
            [0.367322, 0.860646, -0.227968],
            [0.280085, 0.672501, 0.047413],
            [-0.011820, 0.042940, 0.968881],
        ],
        [
            [1.255528, -0.076749, -0.178779],
            [-0.078411, 0.930809, 0.147602],
            [0.004733, 0.691367, 0.303900],
        ],
    ];

    /// CIE 1976 lightness, a* and b* of linear light (white D65, sRGB primaries).
    fn lab(light: [f32; 3]) -> [f32; 3] {
        let rows = [
            [0.4124, 0.3576, 0.1805],
            [0.2126, 0.7152, 0.0722],
            [0.0193, 0.1192, 0.9505],
        ];
        let white = [0.9505, 1.0, 1.089];
        let xyz: [f32; 3] = std::array::from_fn(|k| {
            let sum: f32 = rows[k].iter().zip(light).map(|(r, l)| r * l).sum();
            let share = sum / white[k];
            if share > 0.008_856 {
                share.cbrt()
            } else {
                7.787 * share + 16.0 / 116.0
            }
        });
        [
            116.0 * xyz[1] - 16.0,
            500.0 * (xyz[0] - xyz[1]),
            200.0 * (xyz[1] - xyz[2]),
        ]
    }

    #[test]
    fn bands_are_told_apart_by_colour_blind_eyes() {
        /// Difference of two colours (CIE 1976) that nobody overlooks side by side; 2.3 is just
        /// seen (Mahy, Van Eycken & Oosterlinck 1994).
        const PLAIN_DIFFERENCE: f32 = 15.0;
        let decode = |c: f32| crate::picture::shading::decode(c);
        for matrix in MISSING_CONES {
            let seen = |risk: f64| {
                let light = risk_colour(risk).map(decode);
                let seen = matrix.map(|row| row.iter().zip(light).map(|(m, l)| m * l).sum());
                lab(seen.map(|l: f32| l.clamp(0.0, 1.0)))
            };
            // What is clean, where a fault begins to show, where it is severe, the worst.
            let bands = [0.0, 0.5, 0.75, 1.0].map(seen);
            for (i, a) in bands.iter().enumerate() {
                for b in &bands[..i] {
                    let squares = a.iter().zip(b).map(|(x, y)| (x - y) * (x - y));
                    let difference = squares.sum::<f32>().sqrt();
                    assert!(difference > PLAIN_DIFFERENCE, "{bands:?}");
                }
            }
        }
    }

    #[test]
    fn what_is_no_risk_is_clean() {
        assert_eq!(risk_colour(f64::NAN), risk_colour(0.0));
        assert_eq!(risk_colour(-1.0), risk_colour(0.0));
        assert_eq!(risk_colour(7.0), risk_colour(1.0));
    }
}
