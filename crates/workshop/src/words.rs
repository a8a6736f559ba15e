//! Words by which the database, documents and file names tell a few kinds apart.

/// A kind that is stored as a word.
pub(crate) trait Word: Copy + PartialEq + 'static {
    /// Each kind with its word.
    const WORDS: &'static [(Self, &'static str)];

    /// The word that stands for this.
    fn word(self) -> &'static str {
        Self::WORDS
            .iter()
            .find(|(kind, _)| *kind == self)
            .map_or("", |(_, word)| word)
    }

    /// What a word stands for.
    fn of_word(word: &str) -> Option<Self> {
        Self::WORDS
            .iter()
            .find(|(_, w)| *w == word)
            .map(|(kind, _)| *kind)
    }
}

#[cfg(test)]
mod tests {
    use super::Word;
    use crate::{Condition, ImageKind, Verdict};

    fn are_told_apart<T: Word + std::fmt::Debug>() {
        for &(kind, word) in T::WORDS {
            assert!(!word.is_empty());
            assert_eq!((kind.word(), T::of_word(word)), (word, Some(kind)));
        }
        assert_eq!(T::of_word("gizmo"), None);
    }

    #[test]
    fn every_word_stands_for_one_kind() {
        are_told_apart::<Condition>();
        are_told_apart::<ImageKind>();
        are_told_apart::<Verdict>();
    }
}
