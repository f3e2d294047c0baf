//! The smoothed preview: a cage refined, with all its faces carry, as OBJ.

use std::io::{self, Write};

use thiserror::Error;

use super::colour::risk_colour;
use super::preview_half::HalfPreview;
use crate::io::{ObjContent, write_obj};
use crate::mesh::{Cage, Mirrored, NONE, Topology};
use crate::subdivision::{
    RefinedMesh, RefinedUvs, Samples, Surface, UvSurface, refine, refined_size, spread,
};

/// Why a level can't be made.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum SizeError {
    /// The refined mesh would have more faces than allowed.
    #[error(
        "level {level} would have {faces} faces, more than the budget of {budget}; \
         ask for a lower level or raise the budget (--max-faces)"
    )]
    OverBudget {
        /// The level asked for.
        level: usize,
        /// Faces that it would have.
        faces: u128,
        /// Faces that are allowed.
        budget: u64,
    },
    /// The refined mesh would have more elements than 32 bits can number.
    #[error(
        "level {level} would have {faces} faces, and 32-bit indices can't name all its elements; \
         ask for a lower level"
    )]
    TooLarge {
        /// The level asked for.
        level: usize,
        /// Faces that it would have.
        faces: u128,
    },
}

/// Checks that the preview of a level fits 32-bit indices and a budget of faces. The cage itself,
/// level 0, always fits.
///
/// # Errors
/// [`SizeError`] if it does not.
pub fn check_size(topology: &Topology, level: usize, budget: u64) -> Result<(), SizeError> {
    if level == 0 {
        return Ok(());
    }
    let growth = u32::try_from(2 * (level - 1)).unwrap_or(u32::MAX);
    let growth = 1u128.checked_shl(growth).unwrap_or(u128::MAX);
    let corners = topology.corner_count() as u128;
    let faces = corners.saturating_mul(growth);
    // UVs at worst are apart in each face: then a quad has a value of its own at each of the
    // corners of its grid, fewer than two for every refined face and two more for each corner.
    let uvs = faces.saturating_mul(2).saturating_add(2 * corners);
    let vertices = refined_size(topology, level).map_or(u128::MAX, |size| u128::from(size.0));
    if vertices.max(uvs) >= u128::from(NONE) {
        return Err(SizeError::TooLarge { level, faces });
    }
    if faces > u128::from(budget) {
        return Err(SizeError::OverBudget {
            level,
            faces,
            budget,
        });
    }
    Ok(())
}

/// What the vertex colours of a preview show.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum PreviewColours<'a> {
    /// The cage's own vertex colours, if it has any.
    Own,
    /// The risk of each cage vertex, by [`risk_colour`].
    Risk(&'a [f64]),
}

/// How a preview is made.
#[derive(Debug, Clone, Copy)]
pub struct PreviewOptions<'a> {
    /// Times subdivided; see [`check_size`].
    pub level: usize,
    /// Whether vertices lie where the refinement puts them, or on the limit surface.
    pub samples: Samples,
    /// What the vertex colours show.
    pub colours: PreviewColours<'a>,
    /// The `mtllib` texts; see [`relocated_libraries`](crate::io::relocated_libraries).
    pub material_libraries: &'a [Vec<u8>],
}

/// Writes the preview of a cage, whose subdivision surface is `surface`, as OBJ: see
/// [`write_obj`]. Colours are spread over the refined mesh linearly.
///
/// # Errors
/// As `out`'s.
pub fn write_preview(
    out: &mut (impl Write + Send),
    cage: &Cage,
    surface: &Surface,
    options: &PreviewOptions,
) -> io::Result<()> {
    let refined = Refined::new(cage, surface, options);
    write_refined(out, cage, surface.control().topology(), &refined, options)
}

/// Writes the half of the preview of a mirrored half, whose whole has the subdivision surface
/// `surface`: numbered as if the half had been refined alone. Risks in `options` are the half's.
///
/// # Errors
/// As `out`'s.
pub fn write_half_preview(
    out: &mut (impl Write + Send),
    half: &Cage,
    mirrored: &Mirrored,
    surface: &Surface,
    options: &PreviewOptions,
) -> io::Result<()> {
    let mut refined = Refined::of_whole(mirrored, surface, options);
    let cut = HalfPreview::new(mirrored, &refined.mesh);
    refined = Refined {
        uvs: refined.uvs.map(|uvs| cut.uvs(&uvs)),
        colours: refined.colours.map(|colours| cut.of_vertices(&colours)),
        mesh: cut.mesh(&refined.mesh),
    };
    if options.level == 0 && options.samples == Samples::Refined {
        // As read: the centre line as yet unwelded.
        refined.mesh.positions = half.mesh.positions().iter().map(|&p| p.into()).collect();
    }
    write_refined(out, half, &mirrored.half_topology, &refined, options)
}

/// Writes the preview of the whole that a half was mirrored to, whose subdivision surface is
/// `surface`. Risks in `options` are the half's.
///
/// # Errors
/// As `out`'s.
pub fn write_whole_preview(
    out: &mut (impl Write + Send),
    mirrored: &Mirrored,
    surface: &Surface,
    options: &PreviewOptions,
) -> io::Result<()> {
    let refined = Refined::of_whole(mirrored, surface, options);
    let topology = surface.control().topology();
    write_refined(out, &mirrored.whole, topology, &refined, options)
}

/// A refined mesh with all it carries.
struct Refined {
    mesh: RefinedMesh,
    uvs: Option<RefinedUvs>,
    colours: Option<Vec<[f32; 3]>>,
}

impl Refined {
    /// The refined whole of a mirrored half. Risks in `options` are the half's.
    fn of_whole(mirrored: &Mirrored, surface: &Surface, options: &PreviewOptions) -> Self {
        let risks = match options.colours {
            PreviewColours::Own => Vec::new(),
            PreviewColours::Risk(of_half) => mirrored.map.spread(of_half),
        };
        let colours = match options.colours {
            PreviewColours::Own => PreviewColours::Own,
            PreviewColours::Risk(_) => PreviewColours::Risk(&risks),
        };
        let options = PreviewOptions {
            colours,
            ..*options
        };
        Self::new(&mirrored.whole, surface, &options)
    }

    fn new(cage: &Cage, surface: &Surface, options: &PreviewOptions) -> Self {
        let topology = surface.control().topology();
        let level = options.level;
        let uvs = match &cage.uvs {
            Some(layer) if level > 0 => UvSurface::new(surface.control(), layer),
            _ => None,
        };
        let mut mesh = refine(surface, level, options.samples);
        if level == 0 && options.samples == Samples::Refined {
            // As read: the way through the surface's own frame and back costs digits.
            mesh.positions = cage.mesh.positions().iter().map(|&p| p.into()).collect();
        }
        Self {
            mesh,
            uvs: uvs.map(|uvs| uvs.refine(level)),
            colours: colours(cage, options.colours).map(|own| spread(topology, level, &own)),
        }
    }
}

fn write_refined(
    out: &mut (impl Write + Send),
    cage: &Cage,
    topology: &Topology,
    refined: &Refined,
    options: &PreviewOptions,
) -> io::Result<()> {
    write_obj(
        out,
        &ObjContent {
            mesh: &refined.mesh,
            cage,
            topology,
            uvs: refined.uvs.as_ref(),
            colours: refined.colours.as_deref(),
            material_libraries: options.material_libraries,
        },
    )
}

/// The colour of each cage vertex.
fn colours(cage: &Cage, shown: PreviewColours) -> Option<Vec<[f32; 3]>> {
    match shown {
        PreviewColours::Risk(risks) => Some(risks.iter().map(|&r| risk_colour(r)).collect()),
        PreviewColours::Own => {
            let own = cage.colours.as_ref()?;
            Some(own.iter().map(|c| c.map(|x| x as f32)).collect())
        }
    }
}
