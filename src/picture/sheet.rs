//! The sheet that a view is shown on: a caption, a panel for each way, labels, a legend.

use super::canvas::{Canvas, Colour};
use super::lettering;
use super::panel::Panel;
use super::shading::{Way, encode};
use crate::report::risk_colour;
use crate::risk::Band;

/// Paper, ink, and the ink of what is of less weight.
const PAPER: Colour = [255, 255, 255];
const INK: Colour = [34, 36, 40];
const FAINT_INK: Colour = [98, 102, 110];

/// What lies behind the form in a panel.
pub const BACKGROUND: Colour = [244, 245, 247];

/// Heights of the strips above and below the panels, and the gap beside them, in pixels.
const HEAD: usize = 48;
const FOOT: usize = 76;
const GAP: usize = 12;

/// Pixels of a step of the letters' grid.
const LETTERS: f32 = 2.0;
const SMALL_LETTERS: f32 = 1.75;

/// Height of the legend's bar, and where it starts right of its panel's left side, in pixels.
const BAR_HEIGHT: usize = 16;
const BAR_START: usize = 130;

/// Most letters of the model's name.
const NAME_MAX: usize = 40;

/// What stands in the caption.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Caption {
    /// What is shown.
    pub subject: String,
    /// What there is to say of it.
    pub facts: String,
}

/// Left side and top of a way's panel on the sheet, in pixels.
pub fn panel_origin(way: Way, side: usize) -> [usize; 2] {
    [GAP + way as usize * (side + GAP), HEAD]
}

/// The sheet of a view; without a panel `sentence` stands in its place.
pub fn compose(panel: Result<&Panel, &str>, side: usize, caption: &Caption, model: &str) -> Canvas {
    let width = GAP + Way::ALL.len() * (side + GAP);
    let mut sheet = Canvas::new(width, HEAD + side + FOOT, PAPER);
    write_caption(&mut sheet, caption, model);
    for way in Way::ALL {
        let origin = panel_origin(way, side);
        sheet.fill(origin, [side, side], BACKGROUND);
        match panel {
            Ok(panel) => copy_panel(&mut sheet, panel, way, origin),
            Err(sentence) => {
                let at = [origin[0] as f32 + 20.0, origin[1] as f32 + 40.0];
                lettering::write(&mut sheet, sentence, at, SMALL_LETTERS, INK);
            }
        }
        let foot = [origin[0] as f32, (HEAD + side) as f32 + 26.0];
        lettering::write(&mut sheet, way.name(), foot, LETTERS, INK);
    }
    write_legend(&mut sheet, side);
    sheet
}

fn copy_panel(sheet: &mut Canvas, panel: &Panel, way: Way, [left, top]: [usize; 2]) {
    for y in 0..panel.side() {
        for x in 0..panel.side() {
            sheet.set(left + x, top + y, encode(panel.light(way, x, y)));
        }
    }
}

fn write_caption(sheet: &mut Canvas, caption: &Caption, model: &str) {
    let line = HEAD as f32 - 18.0;
    let start = GAP as f32;
    lettering::write(sheet, &caption.subject, [start, line], LETTERS, INK);
    let after = start + lettering::width(&caption.subject, LETTERS) + 36.0;
    lettering::write(sheet, &caption.facts, [after, line], LETTERS, FAINT_INK);
    let mut model: String = model.chars().take(NAME_MAX).collect();
    if model.chars().count() == NAME_MAX {
        model.push_str("...");
    }
    let right = (sheet.width() - GAP) as f32 - lettering::width(&model, LETTERS);
    lettering::write(sheet, &model, [right, line], LETTERS, FAINT_INK);
}

/// The colours of risks under the last panel, with the bands' names above and their limits below.
fn write_legend(sheet: &mut Canvas, side: usize) {
    let [left, _] = panel_origin(Way::ByRisk, side);
    let top = HEAD + side + 32;
    // Room for the last number's second half.
    let (start, length) = (left + BAR_START, side - BAR_START - 12);
    for step in 0..length {
        let colour = risk_colour((step as f64 + 0.5) / length as f64);
        let colour = colour.map(|c| (255.0 * c).round() as u8);
        sheet.fill([start + step, top], [1, BAR_HEIGHT], colour);
    }
    let mut centred = |text: &str, x: f32, y: f32| {
        let x = x - 0.5 * lettering::width(text, SMALL_LETTERS);
        lettering::write(sheet, text, [x, y], SMALL_LETTERS, INK);
    };
    let at = |risk: f64| start as f32 + (risk * length as f64) as f32;
    let (above, below) = (top as f32 - 7.0, (top + BAR_HEIGHT) as f32 + 20.0);
    for limit in [0.0, 0.25, 0.5, 0.75, 1.0] {
        centred(&format!("{limit}"), at(limit), below);
    }
    for middle in [0.125, 0.375, 0.625, 0.875] {
        centred(Band::of(middle).name(), at(middle), above);
    }
    let bottom = (top + BAR_HEIGHT) as f32;
    for limit in [0.0, 0.25, 0.5, 0.75, 1.0] {
        let x = at(limit);
        sheet.stroke(&[[x, bottom - 5.0], [x, bottom + 4.0]], 1.0, INK);
    }
}
