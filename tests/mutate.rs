//! Spoilt copies of a text document or table, for tests of its reader. Any test file may take it by its path; it needs `shape`.

use shape::Random;

/// Texts that have broken readers before: extreme numbers, wrong kinds, deep nesting, another's decimal point.
const NASTY: [&str; 18] = [
    "null",
    "true",
    "-1",
    "0",
    "1e308",
    "-1e308",
    "1e-320",
    "1e999",
    "\"\"",
    "[]",
    "{}",
    "[[[[[[[[[[[[[[[[[[",
    "\"\\u0000\"",
    "99999999999999999999",
    "0.1000000000000000055511151231257827",
    "\"\\ud800\"",
    "0,5",
    ";",
];

/// One to five slips in a copy of the seed.
pub fn mutate(seed: &[u8], random: &mut Random) -> Vec<u8> {
    let mut bytes = seed.to_vec();
    for _ in 0..=random.below(4) {
        if bytes.is_empty() {
            break;
        }
        let at = random.below(bytes.len());
        match random.below(6) {
            0 => bytes[at] = (random.next_u64() & 0xff) as u8,
            1 => drop(bytes.remove(at)),
            2 => bytes.truncate(at),
            3 => {
                // A stretch twice.
                let end = (at + random.below(40)).min(bytes.len());
                let stretch = bytes[at..end].to_vec();
                bytes.splice(at..at, stretch);
            }
            4 => {
                // Another number in place of one.
                let number = |b: &u8| b.is_ascii_digit() || b"+-.eE".contains(b);
                if let Some(start) = (at..bytes.len()).find(|&i| bytes[i].is_ascii_digit()) {
                    let end = (start..bytes.len())
                        .find(|&i| !number(&bytes[i]))
                        .unwrap_or(bytes.len());
                    bytes.splice(start..end, NASTY[random.below(NASTY.len())].bytes());
                }
            }
            _ => drop(bytes.splice(at..at, NASTY[random.below(NASTY.len())].bytes())),
        }
    }
    bytes
}
