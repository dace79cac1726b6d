//! Spoils good inputs: bits, bytes, numbers, words of the format, pieces cut out, doubled, or taken from another input.

use rand::seq::IndexedRandom;
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// Longest input that is made.
const LONGEST: usize = 256 << 10;

/// Numbers at the edges of their types.
const EDGES: [u32; 12] = [0, 1, 2, 0x7f, 0x80, 0xff, 0x100, 0x7fff, 0xffff, 0x1_0000, 0x7fff_ffff, 0xffff_ffff];

pub(crate) struct Mutator {
    pub(crate) rng: ChaCha8Rng,
}

impl Mutator {
    pub(crate) fn new(seed: u64) -> Self {
        Self { rng: ChaCha8Rng::seed_from_u64(seed) }
    }

    /// One of the seeds, spoilt in one way, every second one in two, every fourth in three and so on; `words` are what the format is made of.
    pub(crate) fn spoil<S: AsRef<[u8]>>(&mut self, seeds: &[S], words: &[&str]) -> Vec<u8> {
        let mut input = seeds.choose(&mut self.rng).unwrap().as_ref().to_vec();
        self.once(&mut input, seeds, words);
        while self.rng.random() {
            self.once(&mut input, seeds, words);
        }
        input.truncate(LONGEST);
        input
    }

    fn once<S: AsRef<[u8]>>(&mut self, input: &mut Vec<u8>, seeds: &[S], words: &[&str]) {
        let at = self.place(input);
        match self.rng.random_range(0..10) {
            0 => input.iter_mut().skip(at).take(1).for_each(|b| *b ^= 1 << self.rng.random_range(0..8)),
            1 => input.iter_mut().skip(at).take(1).for_each(|b| *b = self.rng.random()),
            2 => self.number(input, at),
            3 => drop(input.drain(self.range(input.len(), at))),
            4 => {
                let piece = input[self.range(input.len(), at)].to_vec();
                let to = self.place(input);
                input.splice(to..to, piece);
            }
            5 => input.truncate(at),
            6 => {
                let other = seeds.choose(&mut self.rng).unwrap().as_ref();
                let from = self.place(other);
                input.truncate(at);
                input.extend_from_slice(&other[from..]);
            }
            7 => {
                let times = self.rng.random_range(1..64);
                let byte: u8 = self.rng.random();
                input.splice(at..at, std::iter::repeat_n(byte, times));
            }
            _ => {
                let word = words.choose(&mut self.rng).copied().unwrap_or("").as_bytes();
                let end = if self.rng.random() { at } else { (at + word.len()).min(input.len()) };
                input.splice(at..end, word.iter().copied());
            }
        }
    }

    /// A number of one, two or four bytes in either order.
    fn number(&mut self, input: &mut [u8], at: usize) {
        let value = *EDGES.choose(&mut self.rng).unwrap();
        let width = *[1, 2, 4].choose(&mut self.rng).unwrap();
        let (big, little) = (value.to_be_bytes(), value.to_le_bytes());
        let bytes = if self.rng.random() { &big[4 - width..] } else { &little[..width] };
        input.iter_mut().skip(at).zip(bytes).for_each(|(b, new)| *b = *new);
    }

    fn place(&mut self, input: &[u8]) -> usize {
        self.rng.random_range(0..=input.len())
    }

    fn range(&mut self, length: usize, from: usize) -> std::ops::Range<usize> {
        let most = (length - from).min(4096);
        from..from + self.rng.random_range(0..=most)
    }

    /// A JPEG file with one of its segments left out, doubled, moved or spoilt, its length put right or not.
    pub(crate) fn spoil_segments(&mut self, jpeg: &[u8]) -> Vec<u8> {
        let mut parts = segments(jpeg);
        let i = self.rng.random_range(0..parts.len());
        match self.rng.random_range(0..4) {
            0 => drop(parts.remove(i)),
            1 => parts.insert(i, parts[i].clone()),
            2 => {
                let j = self.rng.random_range(0..parts.len());
                parts.swap(i, j);
            }
            _ => {
                let body = parts[i].get(4..).unwrap_or_default().to_vec();
                let body = self.spoil(&[body], &[]);
                if parts[i].len() >= 4 {
                    parts[i].truncate(2);
                    parts[i].extend((body.len() as u16).wrapping_add(2).to_be_bytes());
                    parts[i].extend(body);
                }
            }
        }
        parts.concat()
    }
}

/// The segments of a JPEG file; what follows the start of scan stays in one piece.
fn segments(jpeg: &[u8]) -> Vec<Vec<u8>> {
    let mut parts = vec![jpeg[..2].to_vec()];
    let mut at = 2;
    while at + 4 <= jpeg.len() && jpeg[at + 1] != 0xda {
        let length = 2 + usize::from(u16::from_be_bytes([jpeg[at + 2], jpeg[at + 3]]));
        let end = (at + length).min(jpeg.len());
        parts.push(jpeg[at..end].to_vec());
        at = end;
    }
    parts.push(jpeg[at..].to_vec());
    parts
}
