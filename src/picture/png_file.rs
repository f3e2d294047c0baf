//! PNG out, and telling our own PNGs from others'.

use std::io::{self, Write};

use super::canvas::Canvas;

/// What our pictures say of the program they are from.
const SOFTWARE: &str = "cagewise";

/// Bytes of a file's start in which [`is_own`] looks for that.
pub const HEAD_BYTES: usize = 256;

/// Writes a canvas as PNG of 8 bits a channel, sRGB.
///
/// # Errors
/// As `out`'s.
pub fn write_png(out: &mut impl Write, canvas: &Canvas) -> io::Result<()> {
    let size = |n: usize| u32::try_from(n).map_err(io::Error::other);
    let mut encoder = png::Encoder::new(out, size(canvas.width())?, size(canvas.height())?);
    encoder.set_color(png::ColorType::Rgb);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_source_srgb(png::SrgbRenderingIntent::Perceptual);
    encoder.set_compression(png::Compression::Fast);
    encoder.add_text_chunk("Software".to_owned(), SOFTWARE.to_owned())?;
    let mut writer = encoder.write_header()?;
    writer.write_image_data(canvas.pixels().as_flattened())?;
    writer.finish()?;
    Ok(())
}

/// Whether a file with this start, [`HEAD_BYTES`] long at most, is a picture that this program has
/// written.
pub fn is_own(head: &[u8]) -> bool {
    let mark = [b"Software\0", SOFTWARE.as_bytes()].concat();
    head.starts_with(b"\x89PNG") && head.windows(mark.len()).any(|part| part == mark)
}
