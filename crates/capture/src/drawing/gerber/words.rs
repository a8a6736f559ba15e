//! A Gerber file cut into its blocks, and blocks into words.

/// What ends with an asterisk.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Block<'a> {
    /// A command between percent signs, without the asterisk.
    Extended { text: &'a str, line: usize },
    /// Function codes and coordinates.
    Words { text: &'a str, line: usize },
    /// The file ends within a block.
    Unfinished,
}

/// Iterates over a file's blocks.
pub(super) struct Blocks<'a> {
    text: &'a str,
    at: usize,
    line: usize,
    extended: bool,
}

impl<'a> Blocks<'a> {
    pub(super) fn of(text: &'a str) -> Self {
        Self {
            text,
            at: 0,
            line: 1,
            extended: false,
        }
    }
}

impl<'a> Iterator for Blocks<'a> {
    type Item = Block<'a>;

    fn next(&mut self) -> Option<Block<'a>> {
        loop {
            let rest = &self.text[self.at..];
            let skipped = rest.len() - rest.trim_start().len();
            self.line += rest[..skipped].matches('\n').count();
            self.at += skipped;
            let rest = &rest[skipped..];
            if rest.is_empty() {
                return self.extended.then_some(Block::Unfinished);
            }
            if rest.starts_with('%') {
                self.extended = !self.extended;
                self.at += 1;
                continue;
            }
            let line = self.line;
            // A macro's own parts end with asterisks too: it goes on to its percent sign. A comment may hold
            // percent signs; other words end before one even where a program forgot their asterisk.
            let comment = rest.starts_with("G04") || rest.starts_with("G4 ");
            let end = if self.extended && rest.starts_with("AM") {
                rest.find('%')
            } else if self.extended || comment {
                rest.find('*')
            } else {
                rest.find(['*', '%'])
            };
            let Some(end) = end else {
                self.at = self.text.len();
                return Some(Block::Unfinished);
            };
            let text = &rest[..end];
            self.line += text.matches('\n').count();
            self.at += end + usize::from(rest[end..].starts_with('*'));
            return Some(if self.extended {
                Block::Extended { text, line }
            } else {
                Block::Words { text, line }
            });
        }
    }
}

/// The words of a block: a letter and what stands up to the next letter, blanks taken out.
pub(super) fn words_of(text: &str) -> Vec<(char, String)> {
    let mut words: Vec<(char, String)> = Vec::new();
    for c in text.chars().filter(|c| !c.is_whitespace()) {
        match (
            c.is_ascii_digit() || matches!(c, '+' | '-' | '.'),
            words.last_mut(),
        ) {
            (true, Some((_, number))) => number.push(c),
            _ => words.push((c, String::new())),
        }
    }
    words
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn blocks_end_with_asterisks_wherever_lines_end() {
        let text = "G04 a comment, with % in it?*%FSLAX46Y46*MOMM*%\nX1\nY2D02*%AMX*1,1,0.5,0,0*%D";
        let kinds: Vec<Block<'_>> =
            Blocks::of("%FSLAX46Y46*MOMM*%\nX1\nY2D02*%AMX*1,1,0.5,0,0*%D").collect();
        assert_eq!(
            kinds,
            [
                Block::Extended {
                    text: "FSLAX46Y46",
                    line: 1
                },
                Block::Extended {
                    text: "MOMM",
                    line: 1
                },
                Block::Words {
                    text: "X1\nY2D02",
                    line: 2
                },
                Block::Extended {
                    text: "AMX*1,1,0.5,0,0*",
                    line: 3
                },
                Block::Unfinished,
            ]
        );
        assert_eq!(Blocks::of(text).count(), 6);
    }

    /// As the library gerbonara 1.5 writes it.
    #[test]
    fn a_forgotten_asterisk_before_a_percent_sign_is_forgiven() {
        let blocks: Vec<Block<'_>> = Blocks::of("G75\n%LPD*%\nD10*").collect();
        assert_eq!(blocks.len(), 3);
        assert!(matches!(blocks[0], Block::Words { text, .. } if text.trim() == "G75"));
    }

    #[test]
    fn a_block_is_cut_at_its_letters() {
        let words = words_of("G01 X-10\nY+5D01");
        let words: Vec<(char, &str)> = words.iter().map(|(c, n)| (*c, n.as_str())).collect();
        assert_eq!(words, [('G', "01"), ('X', "-10"), ('Y', "+5"), ('D', "01")]);
    }
}
