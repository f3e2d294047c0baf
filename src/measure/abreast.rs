//! Values and vectors of four places abreast, in plain arrays.
//!
//! What is computed of them in a [`pulp::WithSimd`] becomes one instruction for all four where the
//! processor has the lanes, as long as every function called there is always inlined. Each of the
//! four undergoes the same additions, multiplications, quotients and roots in the same order as it
//! would by itself, never fused ones, so that the results are the same to the last bit on every
//! processor.

use std::ops::{Add, Div, Mul, Sub};

use crate::mesh::Vec3;

/// Places that are taken abreast.
pub(crate) const PLACES: usize = 4;

/// A value of each place.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Values(pub [f64; PLACES]);

/// A vector of each place, by coordinate.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Vectors(pub [Values; 3]);

macro_rules! by_place {
    ($($trait:ident $method:ident $operator:tt)*) => { $(
        impl $trait for Values {
            type Output = Self;

            #[inline(always)]
            fn $method(mut self, other: Self) -> Self {
                for k in 0..PLACES {
                    self.0[k] $operator other.0[k];
                }
                self
            }
        }
    )* };
}

by_place! { Add add += Sub sub -= Mul mul *= Div div /= }

impl Values {
    /// The same value everywhere.
    #[inline(always)]
    pub fn all(x: f64) -> Self {
        Self([x; PLACES])
    }

    /// The roots.
    #[inline(always)]
    pub fn sqrt(mut self) -> Self {
        for k in 0..PLACES {
            self.0[k] = self.0[k].sqrt();
        }
        self
    }

    /// The smaller values, undefined ones left out.
    #[inline(always)]
    pub fn min(mut self, other: Self) -> Self {
        for k in 0..PLACES {
            self.0[k] = self.0[k].min(other.0[k]);
        }
        self
    }
}

impl Vectors {
    /// Gathers the vectors of four places.
    #[inline(always)]
    pub fn of(places: [&Vec3; PLACES]) -> Self {
        let [a, b, c, d] = places;
        Self([
            Values([a.x, b.x, c.x, d.x]),
            Values([a.y, b.y, c.y, d.y]),
            Values([a.z, b.z, c.z, d.z]),
        ])
    }

    /// The scalar products.
    #[inline(always)]
    pub fn dot(self, other: Self) -> Values {
        let ([ax, ay, az], [bx, by, bz]) = (self.0, other.0);
        ax * bx + ay * by + az * bz
    }

    /// The vector products.
    #[inline(always)]
    pub fn cross(self, other: Self) -> Self {
        let ([ax, ay, az], [bx, by, bz]) = (self.0, other.0);
        Self([ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx])
    }

    /// The lengths.
    #[inline(always)]
    pub fn norm(self) -> Values {
        self.dot(self).sqrt()
    }
}

impl Add for Vectors {
    type Output = Self;

    #[inline(always)]
    fn add(self, other: Self) -> Self {
        let ([ax, ay, az], [bx, by, bz]) = (self.0, other.0);
        Self([ax + bx, ay + by, az + bz])
    }
}

impl Sub for Vectors {
    type Output = Self;

    #[inline(always)]
    fn sub(self, other: Self) -> Self {
        let ([ax, ay, az], [bx, by, bz]) = (self.0, other.0);
        Self([ax - bx, ay - by, az - bz])
    }
}

impl Mul<Values> for Vectors {
    type Output = Self;

    #[inline(always)]
    fn mul(self, factor: Values) -> Self {
        let [x, y, z] = self.0;
        Self([x * factor, y * factor, z * factor])
    }
}
