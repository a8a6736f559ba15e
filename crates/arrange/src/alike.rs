//! Parts of one make: screws of a set, feet, springs. They stand in one row and are named once, as
//! item references are (ISO 6433: identical parts need only be referred to once).

use piece::Part;

/// Parts up to this side are small: alike ones stand together in a row instead of floating alone, mm.
pub(crate) const SMALL_MM: f64 = 10.0;

/// Two captured outlines of one make differ by no more than this, mm.
const SAME_SIZE_MM: f64 = 0.6;

/// Small, of one kind and one size.
pub(crate) fn alike(a: &Part, b: &Part) -> bool {
    let size = |p: &Part| {
        let bounds = p.outline.bounds();
        let (w, h) = (bounds.width_mm(), bounds.height_mm());
        [w.min(h), w.max(h)]
    };
    let (p, q) = (size(a), size(b));
    a.kind == b.kind
        && p[1] <= SMALL_MM
        && q[1] <= SMALL_MM
        && (p[0] - q[0]).abs() <= SAME_SIZE_MM
        && (p[1] - q[1]).abs() <= SAME_SIZE_MM
}

/// What alike parts are called together: the words that all their names begin with, or the first
/// part's name where there are none.
pub(crate) fn common_name(names: &[&str]) -> String {
    let Some((first, rest)) = names.split_first() else {
        return String::new();
    };
    let words: Vec<&str> = first.split_whitespace().collect();
    let shared = rest
        .iter()
        .map(|name| {
            words
                .iter()
                .zip(name.split_whitespace())
                .take_while(|(a, b)| plain(a) == plain(b))
                .count()
        })
        .fold(words.len(), usize::min);
    if shared == 0 {
        return words.join(" ");
    }
    let mut name = words[..shared].join(" ");
    if shared < words.len() {
        name = plain(&name).to_owned();
    }
    name
}

/// A word without the comma or bracket that ends it.
fn plain(word: &str) -> &str {
    word.trim_end_matches([',', ';', ':', '(', '-'])
}

#[cfg(test)]
mod tests {
    use super::common_name;

    #[test]
    fn alike_parts_are_called_by_the_words_that_they_share() {
        assert_eq!(common_name(&["Case screw", "Case screw"]), "Case screw");
        assert_eq!(
            common_name(&["Case screw, head", "Case screw, foot left"]),
            "Case screw"
        );
        assert_eq!(common_name(&["Screw 1", "Screw 2", "Screw 3"]), "Screw");
        assert_eq!(common_name(&["Spring", "Foot"]), "Spring");
        assert_eq!(common_name(&["Foot"]), "Foot");
    }
}
