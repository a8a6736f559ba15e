//! What the eye has learnt, read from the file in the program.
//!
//! Form: `SEY2` (`SEYE` for an eye without leans), the number of levels, each level's channels (little-endian 16 bits), then for each layer in the order of
//! [`Eye::read`] its weights and its biases (a ramp has none) as half-precision numbers.

use super::layers::Layer;
use super::ramp::Ramp;
use super::{Down, Eye, Up};

/// The files, made by `reference/eye/teach.py`: of the eye that sees cells, and of those that see two by two and four by four of them as one.
const NEAR: &[u8] = include_bytes!("near.bin");
const WIDE: &[u8] = include_bytes!("wide.bin");
const FAR: &[u8] = include_bytes!("far.bin");

pub(super) struct Reader<'a> {
    rest: &'a [u8],
}

impl<'a> Reader<'a> {
    /// A reader of what follows a file's first letters.
    pub(super) fn after(file: &'a [u8], letters: &[u8]) -> Option<Self> {
        file.strip_prefix(letters).map(|rest| Self { rest })
    }

    pub(super) fn is_empty(&self) -> bool {
        self.rest.is_empty()
    }

    fn number16(&mut self) -> Option<u16> {
        let (two, rest) = self.rest.split_first_chunk::<2>()?;
        self.rest = rest;
        Some(u16::from_le_bytes(*two))
    }

    pub(super) fn numbers(&mut self, count: usize) -> Option<Vec<f32>> {
        (0..count)
            .map(|_| self.number16().map(|v| half::f16::from_bits(v).to_f32()))
            .collect()
    }

    pub(super) fn rows<const N: usize>(&mut self, count: usize) -> Option<Vec<[f32; N]>> {
        let numbers = self.numbers(count * N)?;
        Some(numbers.as_chunks::<N>().0.to_vec())
    }

    fn layer(
        &mut self,
        outputs: usize,
        inputs: usize,
        taps: usize,
        rectified: bool,
    ) -> Option<Layer> {
        let weights = self.numbers(outputs * inputs * taps)?;
        let bias = self.numbers(outputs)?;
        Some(Layer::new(
            [outputs, inputs, taps],
            &weights,
            bias,
            rectified,
        ))
    }

    /// What the lean adds; nothing in an eye that was taught without it.
    fn ramp(&mut self, outputs: usize, leans: bool) -> Option<Ramp> {
        let count = if leans { 3 * outputs } else { 0 };
        self.numbers(count).map(|w| Ramp::new(&w))
    }
}

impl Eye {
    /// The eyes in the program, the near one first, the far one last; `None` if a file is damaged, which a test rules out.
    pub(super) fn taught() -> Option<[Self; 3]> {
        Some([Self::read(NEAR)?, Self::read(WIDE)?, Self::read(FAR)?])
    }

    fn read(file: &[u8]) -> Option<Self> {
        let leans = file.starts_with(b"SEY2");
        let letters = if leans { b"SEY2" } else { b"SEYE" };
        let mut reader = Reader::after(file, letters)?;
        let levels = usize::from(reader.number16()?);
        let widths: Vec<usize> = (0..levels)
            .map(|_| reader.number16().map(usize::from))
            .collect::<Option<_>>()?;
        if widths.iter().any(|w| w % 4 != 0 || *w == 0 || *w > 512) || !(2..=7).contains(&levels) {
            return None;
        }
        let stem = reader.layer(widths[0], 12, 9, true)?;
        let mut down = Vec::new();
        let mut up = Vec::new();
        for pair in widths.windows(2) {
            let (w, deep) = (pair[0], pair[1]);
            down.push(Down {
                halve: reader.layer(deep, w, 4, true)?,
                lean: reader.ramp(deep, leans)?,
                look: [
                    reader.layer(deep, deep, 9, true)?,
                    reader.layer(deep, deep, 9, true)?,
                ],
            });
        }
        for pair in widths.windows(2) {
            let (w, deep) = (pair[0], pair[1]);
            up.push(Up {
                rise: reader.layer(w, deep, 1, false)?,
                lean: reader.ramp(w, leans)?,
                join: reader.layer(w, w, 9, true)?,
            });
        }
        let head = reader.layer(4, widths[0], 9, false)?;
        reader.is_empty().then_some(Self {
            stem,
            down,
            up,
            head,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_file_in_the_program_is_whole() {
        assert!(Eye::taught().is_some());
    }

    #[test]
    fn a_cut_or_longer_file_is_refused() {
        assert!(Eye::read(&WIDE[..WIDE.len() - 2]).is_none());
        assert!(Eye::read(&[WIDE, &[0, 0]].concat()).is_none());
        assert!(Eye::read(b"SEY2").is_none());
        assert!(Eye::read(b"").is_none());
    }
}
