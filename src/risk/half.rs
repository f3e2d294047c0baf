//! What was found out about a whole, cut down to the half that it was mirrored from.

use super::evidence::Evidence;
use super::{Findings, Risks, model, places};
use crate::measure::{MeasureContext, Measures};
use crate::mesh::MirrorMap;

impl Findings {
    /// Measures the whole of a mirrored half and tells of the half: values of its vertices, and
    /// places of them, one and its mirror image listed once.
    pub fn of_half(context: &MeasureContext, map: &MirrorMap) -> Self {
        let measures = Measures::new(context);
        let evidence = Evidence::new(context, &measures);
        let mut risks = model::risks(context, &measures, &evidence);
        // Alike but for rounding, which might put a vertex and its image on either side of a band.
        risks.mirror(map);
        let places = places(context, &measures, &evidence, &risks);
        risks.cut(map.half_vertices);
        let mut measures = measures.into_inner();
        for measure in &mut measures {
            measure.values.truncate(map.half_vertices);
        }
        Self {
            measures,
            risks,
            places,
        }
    }
}

impl Risks {
    /// Gives mirror images the risks of the half's vertices.
    fn mirror(&mut self, map: &MirrorMap) {
        for v in map.half_vertices..map.images.len() {
            let original = map.in_half(v);
            self.total[v] = self.total[original];
            self.cause[v] = self.cause[original];
            for part in &mut self.by_cause {
                part[v] = part[original];
            }
        }
    }

    fn cut(&mut self, count: usize) {
        self.total.truncate(count);
        self.cause.truncate(count);
        for part in &mut self.by_cause {
            part.truncate(count);
        }
    }
}
