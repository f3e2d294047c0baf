//! Text of many lines, formatted in parallel and written in order in one stream.

use std::io::{self, Write};

use rayon::prelude::*;

/// Lines that one task formats: enough that handing out a task costs little beside it.
const CHUNK_LINES: usize = 1024;

/// Tasks whose text is held at once, while as many are formatted: enough for many cores, and some
/// megabytes in all, so that the text is still in the cache when it is written.
const CHUNKS_IN_FLIGHT: usize = 64;

/// Formats `count` lines (and what stands between them) in chunks, some of them while earlier ones
/// are written. `format` appends a run of lines.
pub(crate) fn write_lines<W: Write + Send>(
    out: &mut W,
    count: usize,
    format: impl Fn(std::ops::Range<usize>, &mut Vec<u8>) + Sync,
) -> io::Result<()> {
    let chunks = count.div_ceil(CHUNK_LINES);
    let mut ready: Vec<Vec<u8>> = vec![Vec::new(); CHUNKS_IN_FLIGHT.min(chunks)];
    let mut spare = ready.clone();
    for first in (0..chunks).step_by(CHUNKS_IN_FLIGHT) {
        let written = rayon::join(
            || write_all(out, &mut ready),
            || {
                spare.par_iter_mut().enumerate().for_each(|(i, text)| {
                    let start = ((first + i) * CHUNK_LINES).min(count);
                    format(start..(start + CHUNK_LINES).min(count), text);
                });
            },
        );
        written.0?;
        std::mem::swap(&mut ready, &mut spare);
    }
    write_all(out, &mut ready)
}

/// Writes the texts and empties them.
fn write_all(out: &mut impl Write, texts: &mut [Vec<u8>]) -> io::Result<()> {
    for text in texts {
        out.write_all(text)?;
        text.clear();
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_come_in_order_however_many_chunks_there_are() {
        for count in [0, 1, CHUNK_LINES, 3 * CHUNK_LINES * CHUNKS_IN_FLIGHT + 17] {
            let mut text = Vec::new();
            let written = write_lines(&mut text, count, |lines, text| {
                for line in lines {
                    text.extend_from_slice(itoa::Buffer::new().format(line).as_bytes());
                    text.push(b'\n');
                }
            });
            assert!(written.is_ok());
            let lines = String::from_utf8_lossy(&text);
            assert!(lines.lines().eq((0..count).map(|line| line.to_string())));
        }
    }
}
