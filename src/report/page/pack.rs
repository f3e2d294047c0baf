//! Arrays of numbers as bytes that compress well: differences, split into byte planes.
//!
//! The page reads them back by `js/data.js`; the tests here read them back in Rust.

use std::ops::Range;

use serde::Serialize;

/// Bits of a rounded float that are dropped: 11 of 23 bits of the fraction stay, a relative error
/// of at most 2^-12, which no figure of three or four digits shows.
const DROPPED_BITS: u32 = 12;

/// How a section's numbers are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Kind {
    /// Bytes as they are.
    Bytes,
    /// 32-bit whole numbers: differences from value to value, in 4 planes.
    U32,
    /// Tuples of 16-bit whole numbers: differences from tuple to tuple, each component's 2 planes
    /// after the other's.
    U16,
    /// 32-bit floats, in 4 planes.
    F32,
    /// 32-bit floats rounded to 12 significant bits, in their upper 3 planes.
    F20,
}

/// Where a section lies.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Section {
    /// Its name.
    pub name: String,
    /// How its numbers are written.
    pub kind: Kind,
    /// Number of tuples.
    pub count: usize,
    /// Numbers in a tuple.
    pub width: usize,
    /// First byte, counted from the end of the header.
    pub start: usize,
    /// Number of bytes.
    pub bytes: usize,
}

/// Sections one after the other, and their directory.
#[derive(Debug, Default)]
pub struct Packed {
    /// The sections.
    pub sections: Vec<Section>,
    /// Their bytes.
    pub bytes: Vec<u8>,
}

impl Packed {
    /// Adds bytes as they are.
    pub fn bytes(&mut self, name: &str, values: &[u8]) {
        self.add(name, Kind::Bytes, (values.len(), 1), |out| {
            out.extend_from_slice(values);
        });
    }

    /// Adds whole numbers, `width` to a tuple.
    pub fn u32(&mut self, name: &str, width: usize, values: &[u32]) {
        let count = values.len() / width;
        self.add(name, Kind::U32, (count, width), |out| {
            for component in 0..width {
                let of_component = values.iter().skip(component).step_by(width);
                let mut before = 0;
                let differences: Vec<u32> = of_component
                    .map(|&x| zigzag(x.wrapping_sub(std::mem::replace(&mut before, x)) as i32))
                    .collect();
                planes(&differences, 0..4, out);
            }
        });
    }

    /// Adds tuples of `N` 16-bit numbers.
    pub fn u16<const N: usize>(&mut self, name: &str, values: &[[u16; N]]) {
        let count = values.len();
        self.add(name, Kind::U16, (count, N), |out| {
            for component in 0..N {
                let from = out.len();
                out.resize(from + 2 * count, 0);
                let (low, high) = out[from..].split_at_mut(count);
                let mut before = 0u16;
                for ((value, low), high) in values.iter().zip(low).zip(high) {
                    let step = value[component].wrapping_sub(before) as i16;
                    before = value[component];
                    [*low, *high] = (((step << 1) ^ (step >> 15)) as u16).to_le_bytes();
                }
            }
        });
    }

    /// Adds floats, `width` to a tuple.
    pub fn f32(&mut self, name: &str, width: usize, values: &[f32]) {
        let count = values.len() / width;
        self.add(name, Kind::F32, (count, width), |out| {
            for component in 0..width {
                let of_component = values.iter().skip(component).step_by(width);
                let bits: Vec<u32> = of_component.map(|x| x.to_bits()).collect();
                planes(&bits, 0..4, out);
            }
        });
    }

    /// Adds floats, rounded: see [`Kind::F20`].
    pub fn f20(&mut self, name: &str, values: impl Iterator<Item = f64>) {
        let bits: Vec<u32> = values.map(rounded_bits).collect();
        self.add(name, Kind::F20, (bits.len(), 1), |out| {
            planes(&bits, 1..4, out);
        });
    }

    fn add(
        &mut self,
        name: &str,
        kind: Kind,
        (count, width): (usize, usize),
        write: impl FnOnce(&mut Vec<u8>),
    ) {
        let start = self.bytes.len();
        write(&mut self.bytes);
        self.sections.push(Section {
            name: name.to_owned(),
            kind,
            count,
            width,
            start,
            bytes: self.bytes.len() - start,
        });
    }
}

/// Small differences of either sign as small numbers without one.
fn zigzag(x: i32) -> u32 {
    ((x << 1) ^ (x >> 31)) as u32
}

/// Byte `k` of every value, for each `k` of `which`.
fn planes(values: &[u32], which: Range<usize>, out: &mut Vec<u8>) {
    for k in which {
        out.extend(values.iter().map(|x| x.to_le_bytes()[k]));
    }
}

/// Bits of the value in single precision, rounded to what [`Kind::F20`] keeps. All that is not
/// finite is one NaN.
fn rounded_bits(value: f64) -> u32 {
    let single = value as f32;
    if !single.is_finite() {
        return f32::NAN.to_bits() & 0x7fff_ffff;
    }
    // Zero has one sign, so that its planes are zeros.
    let bits = if single == 0.0 { 0 } else { single.to_bits() };
    let half = 1 << (DROPPED_BITS - 1);
    let rounded = bits.saturating_add(half) >> DROPPED_BITS << DROPPED_BITS;
    // Rounding up from the largest numbers must not end at infinity.
    if f32::from_bits(rounded).is_finite() {
        rounded
    } else {
        bits >> DROPPED_BITS << DROPPED_BITS
    }
}

/// Reading back, as the page does.
#[cfg(test)]
pub mod unpack {
    /// The numbers of `count` tuples of `width`, from differences in `planes` bytes each.
    pub fn differences(bytes: &[u8], count: usize, width: usize, planes: usize) -> Vec<u32> {
        let mut out = vec![0; count * width];
        for component in 0..width {
            let mut value = 0u32;
            for i in 0..count {
                let plane = |k: usize| bytes[(component * planes + k) * count + i];
                let coded = (0..planes).fold(0, |x, k| x | u32::from(plane(k)) << (8 * k));
                let step = (coded >> 1) ^ (coded & 1).wrapping_neg();
                value = value.wrapping_add(step);
                if planes == 2 {
                    value &= 0xffff;
                }
                out[i * width + component] = value;
            }
        }
        out
    }

    /// Floats of the upper `planes` bytes.
    pub fn floats(bytes: &[u8], count: usize, planes: usize) -> Vec<f32> {
        let bits = |i: usize| {
            (0..planes).fold(0, |x, k| {
                x | u32::from(bytes[k * count + i]) << (8 * (k + 4 - planes))
            })
        };
        (0..count).map(|i| f32::from_bits(bits(i))).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn whole_numbers_come_back() {
        let values = [7, 0, u32::MAX, 3, 1 << 31, 2];
        let mut packed = Packed::default();
        packed.u32("pairs", 2, &values);
        assert_eq!(unpack::differences(&packed.bytes, 3, 2, 4), values);
        let tuples = [[0u16, 65535, 9], [65535, 0, 9], [32768, 32767, 10]];
        let mut packed = Packed::default();
        packed.u16("tuples", &tuples);
        let flat: Vec<u32> = tuples.iter().flatten().map(|&x| u32::from(x)).collect();
        assert_eq!(unpack::differences(&packed.bytes, 3, 3, 2), flat);
    }

    #[test]
    fn rounded_floats_are_right_to_12_bits_and_never_infinite() {
        let values = [
            0.0,
            -0.0,
            1.0,
            -9.13,
            1e-30,
            f64::from(f32::MAX),
            39.0004,
            180.0,
        ];
        let mut packed = Packed::default();
        packed.f20("figures", values.into_iter());
        for (found, wanted) in unpack::floats(&packed.bytes, values.len(), 3)
            .iter()
            .zip(values)
        {
            assert!(found.is_finite());
            let error = (f64::from(*found) - wanted).abs();
            assert!(
                error <= wanted.abs() * 2f64.powi(-11),
                "{found} for {wanted}"
            );
        }
        let mut packed = Packed::default();
        packed.f20("none", [f64::NAN, f64::INFINITY].into_iter());
        let found = unpack::floats(&packed.bytes, 2, 3);
        assert!(found.iter().all(|x| x.is_nan()));
    }
}
