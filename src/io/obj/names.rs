//! The name in force for the faces that follow a statement.

use std::collections::HashMap;

use crate::mesh::{NONE, NameTable};

/// Gathers a [`NameTable`] from `o`, `g` or `usemtl` statements and the faces between them.
#[derive(Debug, Default)]
pub(super) struct NameTracker {
    table: NameTable,
    indices: HashMap<Vec<u8>, u32>,
    stated: Option<Vec<u8>>,
    /// Index of the stated name once a face has used it.
    in_use: Option<u32>,
}

impl NameTracker {
    /// A statement names what the following faces belong to.
    pub fn state(&mut self, name: &[u8]) {
        if self.stated.as_deref() != Some(name) {
            self.stated = Some(name.to_vec());
            self.in_use = None;
        }
    }

    /// A face takes the name in force.
    pub fn add_face(&mut self) {
        let index = match (self.in_use, &self.stated) {
            (Some(index), _) => index,
            (None, None) => NONE,
            (None, Some(name)) => {
                let next = self.table.names.len() as u32;
                let index = self.indices.get(name).copied().unwrap_or(next);
                if index == next {
                    self.indices.insert(name.clone(), next);
                    self.table.names.push(name.clone());
                }
                self.in_use = Some(index);
                index
            }
        };
        self.table.of_face.push(index);
    }

    /// The table of all faces added.
    pub fn into_table(self) -> NameTable {
        self.table
    }
}

/// Numbers from here on are given labels in order of use: they may be longer than 32 bits.
const LARGE_GROUP: u32 = 1 << 31;

/// Smoothing-group numbers as labels of 32 bits: small ones stand for themselves, large ones of
/// any length are told apart.
#[derive(Debug, Default)]
pub(super) struct SmoothingLabels {
    large: HashMap<Vec<u8>, u32>,
}

impl SmoothingLabels {
    /// The label of a token that is a whole number or `off`; `None` for any other.
    pub fn label(&mut self, token: &[u8]) -> Option<u32> {
        if token == b"off" {
            return Some(0);
        }
        let digits = token.strip_prefix(b"+").unwrap_or(token);
        if digits.is_empty() || !digits.iter().all(u8::is_ascii_digit) {
            return None;
        }
        let start = digits.iter().position(|&b| b != b'0');
        let digits = &digits[start.unwrap_or(digits.len())..];
        let small = digits.iter().try_fold(0u32, |n, b| {
            n.checked_mul(10)?.checked_add(u32::from(b - b'0'))
        });
        if let Some(number) = small.filter(|&n| n < LARGE_GROUP) {
            return Some(number);
        }
        let next = LARGE_GROUP + self.large.len() as u32;
        Some(*self.large.entry(digits.to_vec()).or_insert(next))
    }
}
