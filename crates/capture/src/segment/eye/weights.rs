//! What the eye has learnt, read from the file in the program.
//!
//! Form: `SEYE`, the number of levels, each level's channels (little-endian 16 bits), then for each layer in the order of
//! [`Eye::read`] its weights and its biases as half-precision numbers.

use super::Eye;
use super::layers::Layer;

/// The file, made by `reference/eye/teach.py`.
const FILE: &[u8] = include_bytes!("eye.bin");

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
}

impl Eye {
    /// The eye in the program; `None` if its file is damaged, which a test rules out.
    pub(super) fn taught() -> Option<Self> {
        Self::read(FILE)
    }

    fn read(file: &[u8]) -> Option<Self> {
        let mut reader = Reader::after(file, b"SEYE")?;
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
            let halve = reader.layer(deep, w, 4, true)?;
            let look = [
                reader.layer(deep, deep, 9, true)?,
                reader.layer(deep, deep, 9, true)?,
            ];
            down.push((halve, look));
        }
        for pair in widths.windows(2) {
            let (w, deep) = (pair[0], pair[1]);
            let rise = reader.layer(w, deep, 1, false)?;
            let join = reader.layer(w, w, 9, true)?;
            up.push((rise, join));
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
        assert!(Eye::read(&FILE[..FILE.len() - 2]).is_none());
        assert!(Eye::read(&[FILE, &[0, 0]].concat()).is_none());
        assert!(Eye::read(b"SEYE").is_none());
        assert!(Eye::read(b"").is_none());
    }
}
