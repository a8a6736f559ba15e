//! Does a JPEG file hold all the blocks that its header promises?
//!
//! A file that was cut and then closed with an end-of-image marker has all its markers; the decoder paints
//! what is missing in one colour and says nothing. Here the coded data of sequential files (ITU-T T.81, F.2.2:
//! Huffman coding, no progression) are walked code by code and counted. Progressive files cannot be told
//! this way: a cut one lacks detail everywhere, not a part.

/// A canonical code table (T.81, Annex C): per length, the first code beyond it and the first symbol's place.
#[derive(Clone, Default)]
struct Codes {
    /// For each length 1 to 16: smallest code, count, and where its symbols start.
    lengths: [(u32, u32, usize); 16],
    symbols: Vec<u8>,
}

#[derive(Clone, Copy)]
struct Component {
    id: u8,
    /// Blocks a minimal coded unit has of it, across and down.
    factors: [usize; 2],
}

struct Bits<'a> {
    bytes: &'a [u8],
    at: usize,
    held: u32,
    n_held: u32,
}

impl Bits<'_> {
    /// Takes up the next byte; `None` at a marker or the end.
    fn fill(&mut self) -> Option<()> {
        let byte = *self.bytes.get(self.at)?;
        if byte == 0xFF {
            if *self.bytes.get(self.at + 1)? != 0 {
                return None;
            }
            self.at += 1;
        }
        self.at += 1;
        (self.held, self.n_held) = (u32::from(byte), 8);
        Some(())
    }

    fn bit(&mut self) -> Option<u32> {
        if self.n_held == 0 {
            self.fill()?;
        }
        self.n_held -= 1;
        Some(self.held >> self.n_held & 1)
    }

    fn symbol(&mut self, codes: &Codes) -> Option<u8> {
        let mut code = 0;
        for &(first, count, from) in &codes.lengths {
            code = code << 1 | self.bit()?;
            if code >= first && code - first < count {
                return codes.symbols.get(from + (code - first) as usize).copied();
            }
        }
        None
    }

    fn skip(&mut self, bits: u8) -> Option<()> {
        let mut bits = u32::from(bits);
        while bits > 0 {
            if self.n_held == 0 {
                self.fill()?;
            }
            let now = bits.min(self.n_held);
            self.n_held -= now;
            bits -= now;
        }
        Some(())
    }

    /// One block of 64 coefficients.
    fn block(&mut self, dc: &Codes, ac: &Codes) -> Option<()> {
        let size = self.symbol(dc)?;
        self.skip(size)?;
        let mut k = 1;
        while k < 64 {
            let symbol = self.symbol(ac)?;
            let (run, size) = (symbol >> 4, symbol & 15);
            if size == 0 && run != 15 {
                break;
            }
            self.skip(size)?;
            k += usize::from(run) + 1;
        }
        Some(())
    }

    /// Passes a restart marker.
    fn restart(&mut self) -> Option<()> {
        self.n_held = 0;
        while self.bytes.get(self.at..self.at + 2)? == [0xFF, 0xFF] {
            self.at += 1;
        }
        let marker = self.bytes.get(self.at..self.at + 2)?;
        (marker[0] == 0xFF && (0xD0..=0xD7).contains(&marker[1])).then_some(())?;
        self.at += 2;
        Some(())
    }
}

/// `Some(false)`: blocks are missing. `None`: the file is not of a kind that can be told.
pub(super) fn holds_all_blocks(bytes: &[u8]) -> Option<bool> {
    let (mut dc, mut ac) = (vec![Codes::default(); 4], vec![Codes::default(); 4]);
    let mut components: Vec<Component> = Vec::new();
    let (mut size, mut interval) = ([0_usize; 2], 0_usize);
    let mut at = 2;
    loop {
        // Segments follow each other; fill bytes may stand between.
        while bytes.get(at..at + 2)? == [0xFF, 0xFF] {
            at += 1;
        }
        let [0xFF, marker] = *bytes.get(at..at + 2)? else {
            return None;
        };
        if marker == 0xD9 {
            return Some(true);
        }
        let length = usize::from(u16::from_be_bytes(
            bytes.get(at + 2..at + 4)?.try_into().ok()?,
        ));
        let data = bytes.get(at + 4..at + 2 + length)?;
        at += 2 + length;
        match marker {
            0xC0 | 0xC1 => {
                size = [number(data, 3)?, number(data, 1)?];
                components = data
                    .get(6..)?
                    .as_chunks::<3>()
                    .0
                    .iter()
                    .map(component)
                    .collect();
            }
            // Progressive, lossless, arithmetic coding.
            0xC2 | 0xC3 | 0xC5..=0xC7 | 0xC9..=0xCF => return None,
            0xC4 => tables(data, &mut dc, &mut ac)?,
            0xDD => interval = number(data, 0)?,
            0xDA => {
                let n = usize::from(*data.first()?);
                let mut chosen = Vec::new();
                for pair in data.get(1..1 + 2 * n)?.as_chunks::<2>().0 {
                    let c = *components.iter().find(|c| c.id == pair[0])?;
                    let (d, a) = (
                        dc.get(usize::from(pair[1] >> 4))?,
                        ac.get(usize::from(pair[1] & 15))?,
                    );
                    chosen.push((c, d, a));
                }
                let most =
                    [0, 1].map(|k| components.iter().map(|c| c.factors[k]).max().unwrap_or(1));
                let mut bits = Bits {
                    bytes,
                    at,
                    held: 0,
                    n_held: 0,
                };
                if !scan(&mut bits, &chosen, size, most, interval) {
                    return Some(false);
                }
                at = bits.at;
            }
            _ => {}
        }
    }
}

/// Walks a scan's blocks; false where it ends before they do.
fn scan(
    bits: &mut Bits<'_>,
    chosen: &[(Component, &Codes, &Codes)],
    size: [usize; 2],
    most: [usize; 2],
    interval: usize,
) -> bool {
    // A scan of one component has one block a unit, and no more units than its own samples need (T.81, A.2).
    let alone = chosen.len() == 1;
    let units: usize = (0..2)
        .map(|k| match chosen.first() {
            Some((c, ..)) if alone => (size[k] * c.factors[k]).div_ceil(most[k]).div_ceil(8),
            _ => size[k].div_ceil(8 * most[k]),
        })
        .product();
    for unit in 0..units {
        if interval > 0 && unit > 0 && unit.is_multiple_of(interval) && bits.restart().is_none() {
            return false;
        }
        for (c, dc, ac) in chosen {
            let blocks = if alone {
                1
            } else {
                c.factors[0] * c.factors[1]
            };
            for _ in 0..blocks {
                if bits.block(dc, ac).is_none() {
                    return false;
                }
            }
        }
    }
    true
}

fn number(data: &[u8], at: usize) -> Option<usize> {
    Some(usize::from(u16::from_be_bytes(
        data.get(at..at + 2)?.try_into().ok()?,
    )))
}

fn component(entry: &[u8; 3]) -> Component {
    Component {
        id: entry[0],
        factors: [
            usize::from(entry[1] >> 4).max(1),
            usize::from(entry[1] & 15).max(1),
        ],
    }
}

/// The code tables of one segment (T.81, B.2.4.2).
fn tables(mut data: &[u8], dc: &mut [Codes], ac: &mut [Codes]) -> Option<()> {
    while let Some((&kind, rest)) = data.split_first() {
        let counts = rest.get(..16)?;
        let total: usize = counts.iter().map(|&c| usize::from(c)).sum();
        let symbols = rest.get(16..16 + total)?.to_vec();
        let mut codes = Codes {
            symbols,
            ..Codes::default()
        };
        let (mut code, mut from) = (0_u32, 0);
        for (length, &count) in codes.lengths.iter_mut().zip(counts) {
            *length = (code, u32::from(count), from);
            from += usize::from(count);
            code = (code + u32::from(count)) << 1;
        }
        let group = if kind >> 4 == 0 { &mut *dc } else { &mut *ac };
        *group.get_mut(usize::from(kind & 15))? = codes;
        data = &rest[16 + total..];
    }
    Some(())
}
