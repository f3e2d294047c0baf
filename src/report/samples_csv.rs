//! Tables of samples of the limit surface.

use std::io::{self, Write};

use super::csv_fields::{write_index, write_number, write_vector};
use crate::io::lines::write_lines;
use crate::limit::{LimitPoint, Place};

/// The columns, in order.
const COLUMNS: [&str; 35] = [
    "face", "corner", "u", "v", "x", "y", "z", "normal_x", "normal_y", "normal_z", "k1", "k2",
    "gauss", "mean", "k1_x", "k1_y", "k1_z", "k2_x", "k2_y", "k2_z", "du_x", "du_y", "du_z",
    "dv_x", "dv_y", "dv_z", "duu_x", "duu_y", "duu_z", "duv_x", "duv_y", "duv_z", "dvv_x", "dvv_y",
    "dvv_z",
];

/// Writes a row per place (RFC 4180, lines ending with LF), in the given order; `points` has one
/// point per place, in file units.
///
/// | column | what it holds |
/// |---|---|
/// | `face,corner,u,v` | the place, as [`Place`] has it, face and corner from 1 |
/// | `x,y,z` | position, file units |
/// | `normal_x,normal_y,normal_z` | unit normal |
/// | `k1,k2` | principal curvatures, `k1` ≥ `k2`, in 1 / file unit; positive where convex |
/// | `gauss,mean` | Gaussian (1 / file unit²) and mean curvature (1 / file unit) |
/// | `k1_x` to `k2_z` | unit tangents along which the surface has these curvatures |
/// | `du_x` to `dv_z` | first derivatives by u and v, file units |
/// | `duu_x` to `dvv_z` | second derivatives, file units |
///
/// What is not defined (at a pole: everything but position and normal) is an empty field.
///
/// # Errors
/// As `out`'s.
pub fn write_samples_csv(
    out: &mut (impl Write + Send),
    places: &[Place],
    points: &[LimitPoint],
) -> io::Result<()> {
    let mut header = csv::Writer::from_writer(&mut *out);
    header.write_record(COLUMNS)?;
    header.flush()?;
    drop(header);
    write_lines(out, places.len().min(points.len()), |range, text| {
        // Writing to memory cannot fail.
        let mut rows = csv::Writer::from_writer(text);
        for i in range {
            let _ = write_row(&mut rows, &places[i], &points[i]);
        }
        let _ = rows.flush();
    })
}

fn write_row<W: Write>(
    rows: &mut csv::Writer<W>,
    place: &Place,
    point: &LimitPoint,
) -> csv::Result<()> {
    write_index(rows, Some(place.face))?;
    write_index(rows, place.corner)?;
    write_number(rows, Some(place.u))?;
    write_number(rows, Some(place.v))?;
    write_vector(rows, Some(&point.position))?;
    write_vector(rows, point.normal.as_ref())?;
    let curvature = point.curvature();
    for k in 0..2 {
        write_number(rows, curvature.map(|c| c.principal[k]))?;
    }
    write_number(rows, curvature.map(|c| c.gauss()))?;
    write_number(rows, curvature.map(|c| c.mean()))?;
    for k in 0..2 {
        write_vector(rows, curvature.map(|c| c.directions[k]).as_ref())?;
    }
    for k in 0..2 {
        write_vector(rows, point.first.map(|d| d[k]).as_ref())?;
    }
    for k in 0..3 {
        write_vector(rows, point.second.map(|d| d[k]).as_ref())?;
    }
    rows.write_record(None::<&[u8]>)
}
