//! Arrays whose size is their cost: memory that is touched for the first time.
//!
//! The kernel hands memory out page by page, at the first touch. A refined mesh touches each
//! page once, in pages of 4 KiB tens of thousands of times, which takes longer than to compute what
//! goes in. Large arrays are therefore mapped by themselves, and the kernel is asked to back
//! them with huge pages (2 MiB on most machines); where it doesn't, nothing else changes.

use std::ops::{Deref, DerefMut};

use bytemuck::Pod;
use memmap2::MmapMut;

/// Bytes from which on an array is mapped by itself: a few huge pages, so that the part of one
/// that stays unused at either end counts for little.
const MAPPED_BYTES_MIN: usize = 8 << 20;

/// An array of fixed length, zero at first, untouched until it is written to.
#[derive(Debug)]
pub struct LargeArray<T> {
    store: Store<T>,
    len: usize,
}

#[derive(Debug)]
enum Store<T> {
    Heap(Vec<T>),
    Mapped(MmapMut),
}

impl<T: Pod> LargeArray<T> {
    /// An array of `len` zeros.
    pub fn zeros(len: usize) -> Self {
        let store = match map(len.saturating_mul(size_of::<T>())) {
            Some(mapped) => Store::Mapped(mapped),
            None => Store::Heap(vec![T::zeroed(); len]),
        };
        Self { store, len }
    }
}

/// Maps that many bytes, if they are worth it and the kernel agrees.
fn map(bytes: usize) -> Option<MmapMut> {
    if bytes < MAPPED_BYTES_MIN {
        return None;
    }
    let mapped = MmapMut::map_anon(bytes).ok()?;
    // Only a wish: without huge pages the mapping serves as well, but slower.
    #[cfg(target_os = "linux")]
    let _ = mapped.advise(memmap2::Advice::HugePage);
    Some(mapped)
}

impl<T: Pod> From<Vec<T>> for LargeArray<T> {
    fn from(values: Vec<T>) -> Self {
        let len = values.len();
        let store = Store::Heap(values);
        Self { store, len }
    }
}

impl<T: Pod> FromIterator<T> for LargeArray<T> {
    fn from_iter<I: IntoIterator<Item = T>>(values: I) -> Self {
        Vec::from_iter(values).into()
    }
}

impl<T: Pod> Deref for LargeArray<T> {
    type Target = [T];

    fn deref(&self) -> &[T] {
        match &self.store {
            Store::Heap(values) => values,
            Store::Mapped(bytes) => bytemuck::cast_slice(&bytes[..self.len * size_of::<T>()]),
        }
    }
}

impl<T: Pod> DerefMut for LargeArray<T> {
    fn deref_mut(&mut self) -> &mut [T] {
        match &mut self.store {
            Store::Heap(values) => values,
            Store::Mapped(bytes) => {
                bytemuck::cast_slice_mut(&mut bytes[..self.len * size_of::<T>()])
            }
        }
    }
}

impl<T: Pod> Clone for LargeArray<T> {
    fn clone(&self) -> Self {
        let mut copy = Self::zeros(self.len);
        copy.copy_from_slice(self);
        copy
    }
}

impl<T: Pod + PartialEq> PartialEq for LargeArray<T> {
    fn eq(&self, other: &Self) -> bool {
        **self == **other
    }
}

impl<T: Pod + PartialEq> PartialEq<LargeArray<T>> for Vec<T> {
    fn eq(&self, other: &LargeArray<T>) -> bool {
        **self == **other
    }
}

impl<'a, T: Pod> IntoIterator for &'a LargeArray<T> {
    type Item = &'a T;
    type IntoIter = std::slice::Iter<'a, T>;

    fn into_iter(self) -> Self::IntoIter {
        self.iter()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn small_and_mapped_arrays_start_as_zeros_and_keep_what_is_written() {
        let smallest_mapped = MAPPED_BYTES_MIN / size_of::<[f64; 3]>() + 1;
        for len in [0, 1, 1000, smallest_mapped] {
            let mut array = LargeArray::<[f64; 3]>::zeros(len);
            assert_eq!(array.len(), len);
            assert!(array.iter().all(|p| *p == [0.0; 3]));
            if let Some(last) = array.last_mut() {
                *last = [1.0, 2.0, 3.0];
            }
            assert_eq!(array.clone(), array);
            assert_eq!(array.last(), (len > 0).then_some(&[1.0, 2.0, 3.0]));
        }
    }
}
