//! The limit surface as an object of its own: position, derivatives, normal and curvature at any
//! place of any face, and what is read off them.
//!
//! A [`Place`] names a face and parameters in it; [`LimitSurface`] turns places into
//! [`LimitPoint`]s. Everything is exact: [`FacePatches`] holds the bicubic patches that a face
//! consists of, found by splitting it wherever its neighbourhood is not regular (near poles, the
//! ends of creases, semi-sharp creases), and a place is evaluated in the patch that holds it.

pub mod annuli;
pub mod curvature;
pub mod extent;
pub mod fillet;
pub mod gauss_legendre;
pub mod held;
pub mod integrals;
pub mod patches;
pub mod pattern;
pub mod pattern_curvature;
pub mod pieces;
pub mod place;
pub mod point;
pub mod pole;
mod pole_table;
pub mod section;
pub mod surface;
mod volume_form;

pub use annuli::Annuli;
pub use curvature::Curvature;
pub use extent::limit_extent;
pub use fillet::{EdgeLoop, Fillets, Station};
pub use integrals::LimitIntegrals;
pub use patches::FacePatches;
pub use place::{Place, PlaceError};
pub use point::LimitPoint;
pub use pole::{PoleModes, Towards};
pub use surface::LimitSurface;
