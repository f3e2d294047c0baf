//! A block of text, put together without a call for each of its words.

/// Room of a block: a page.
const CAPACITY: usize = 4096;

/// Bytes that may be appended once [`Block::move_if_full`] has been called.
const LINE_MAX: usize = 256;

/// Bytes of the longest word, for the tests.
#[cfg(test)]
const WORD_MAX: usize = 32;

/// Text under construction, of a few lines; see [`Block::move_if_full`].
pub(crate) struct Block {
    bytes: [u8; CAPACITY],
    length: usize,
}

impl Block {
    /// An empty block.
    pub fn new() -> Self {
        Self {
            bytes: [0; CAPACITY],
            length: 0,
        }
    }

    /// Moves the block to the text if fewer than [`LINE_MAX`] bytes may fit: to be called before
    /// each line, and within a line that may be longer.
    pub fn move_if_full(&mut self, text: &mut Vec<u8>) {
        if self.length + LINE_MAX > CAPACITY {
            self.move_to(text);
        }
    }

    /// Appends a byte.
    pub fn push(&mut self, byte: u8) {
        self.bytes[self.length] = byte;
        self.length += 1;
    }

    /// Appends a word of a few bytes, in pieces of known size: the last one overlaps the one
    /// before it. That is several times as fast as a copy of unknown size.
    pub fn push_word(&mut self, word: &[u8]) {
        let count = word.len();
        let to = &mut self.bytes[self.length..self.length + count];
        if count >= 8 {
            copy_in_pieces::<8>(word, to);
        } else if count >= 4 {
            copy_in_pieces::<4>(word, to);
        } else {
            for (to, &byte) in to.iter_mut().zip(word) {
                *to = byte;
            }
        }
        self.length += count;
    }

    /// A separator and the shortest text that reads back as `x`.
    pub fn push_number(&mut self, separator: u8, x: f64) {
        let mut buffer = zmij::Buffer::new();
        self.push(separator);
        // -0 says no more than 0.
        let digits = buffer.format(x + 0.0).as_bytes();
        self.push_word(digits.strip_suffix(b".0").unwrap_or(digits));
    }

    /// A separator and an index, counted from 1 in the text and from 0 in `index`.
    pub fn push_index(&mut self, separator: u8, index: u32) {
        self.push(separator);
        self.push_word(itoa::Buffer::new().format(index + 1).as_bytes());
    }

    /// Appends the block to the text, and empties it.
    pub fn move_to(&mut self, text: &mut Vec<u8>) {
        text.extend_from_slice(&self.bytes[..self.length]);
        self.length = 0;
    }
}

/// Copies a word of `N` bytes and more.
fn copy_in_pieces<const N: usize>(from: &[u8], to: &mut [u8]) {
    for (from, to) in from.chunks_exact(N).zip(to.chunks_exact_mut(N)) {
        to.copy_from_slice(from);
    }
    if let (Some(from), Some(to)) = (from.last_chunk::<N>(), to.last_chunk_mut::<N>()) {
        *to = *from;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn number(x: f64) -> String {
        let (mut block, mut text) = (Block::new(), Vec::new());
        block.push_number(b' ', x);
        block.move_to(&mut text);
        String::from_utf8_lossy(&text).into_owned()
    }

    #[test]
    fn numbers_are_the_shortest_that_read_back() {
        assert_eq!(number(1.0), " 1");
        assert_eq!(number(-0.0), " 0");
        assert_eq!(number(-0.1), " -0.1");
        assert_eq!(number(5.0 / 9.0), " 0.5555555555555556");
        for x in [1e-150, -1e150, 1e8 + 0.25, f64::MIN_POSITIVE, -f64::MAX] {
            assert_eq!(number(x).trim().parse(), Ok(x));
        }
    }

    #[test]
    fn words_of_every_length_come_out_whole() {
        let word: Vec<u8> = (b'A'..b'A' + WORD_MAX as u8).collect();
        for count in 0..=WORD_MAX {
            let (mut block, mut text) = (Block::new(), b"x".to_vec());
            block.push(b' ');
            block.push_word(&word[..count]);
            block.push_word(&word[..1]);
            block.move_to(&mut text);
            assert_eq!(text, [b"x ", &word[..count], b"A"].concat());
        }
    }
}
