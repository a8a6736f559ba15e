//! How long work reports its progress and is told to stop.

use std::sync::Mutex;

/// The caller asked for the work to stop; what was done so far is dropped or returned as told there.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("cancelled")]
pub struct Cancelled;

/// Hears of progress and may ask for a stop.
///
/// Long work calls [`Watch::step`] often (at least every 50 ms or so of work). The clock lives with the
/// caller: a time limit is a watch that answers `Err(Cancelled)` once the time is up.
pub trait Watch: Sync {
    /// `share` of the work in 0..=1 is done; `what` names the stage in plain words.
    ///
    /// # Errors
    /// [`Cancelled`] asks the work to stop soon.
    fn step(&self, what: &str, share: f64) -> Result<(), Cancelled>;
}

/// One stage of several: its 0 to 1 is a stretch of the whole's.
pub struct Stage<'a> {
    whole: &'a dyn Watch,
    name: &'a str,
    from: f64,
    to: f64,
}

impl<'a> Stage<'a> {
    /// A stage of whatever watches the whole: its 0 to 1 becomes `from` to `to`.
    pub fn new(whole: &'a dyn Watch, from: f64, to: f64) -> Self {
        Self::named(whole, "", from, to)
    }

    /// The same, with a name before what each step is called.
    pub fn named(whole: &'a dyn Watch, name: &'a str, from: f64, to: f64) -> Self {
        Self {
            whole,
            name,
            from,
            to,
        }
    }
}

impl Watch for Stage<'_> {
    fn step(&self, what: &str, share: f64) -> Result<(), Cancelled> {
        let share = self.from + (self.to - self.from) * share;
        if self.name.is_empty() {
            self.whole.step(what, share)
        } else {
            self.whole.step(&format!("{}: {what}", self.name), share)
        }
    }
}

/// Pieces of work that go on side by side: the whole is as far as they are on the mean.
pub struct Abreast<'a> {
    whole: &'a dyn Watch,
    shares: Mutex<Vec<f64>>,
}

impl<'a> Abreast<'a> {
    /// So many pieces of whatever watches the whole.
    pub fn new(whole: &'a dyn Watch, count: usize) -> Self {
        Self {
            whole,
            shares: Mutex::new(vec![0.0; count]),
        }
    }

    /// The watch of one piece, by its number.
    pub fn piece(&self, number: usize) -> impl Watch + '_ {
        Piece { of: self, number }
    }
}

struct Piece<'a> {
    of: &'a Abreast<'a>,
    number: usize,
}

impl Watch for Piece<'_> {
    fn step(&self, what: &str, share: f64) -> Result<(), Cancelled> {
        let mut shares = self.of.shares.lock().unwrap_or_else(|e| e.into_inner());
        if let Some(own) = shares.get_mut(self.number) {
            *own = own.max(share.clamp(0.0, 1.0));
        }
        let mean = shares.iter().sum::<f64>() / shares.len().max(1) as f64;
        drop(shares);
        self.of.whole.step(what, mean)
    }
}

/// A watch that hears nothing and never stops the work.
#[derive(Debug, Clone, Copy, Default)]
pub struct Silent;

impl Watch for Silent {
    fn step(&self, _what: &str, _share: f64) -> Result<(), Cancelled> {
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[derive(Default)]
    struct Heard(Mutex<Vec<(String, f64)>>);

    impl Watch for Heard {
        fn step(&self, what: &str, share: f64) -> Result<(), Cancelled> {
            self.0.lock().unwrap().push((what.to_owned(), share));
            Ok(())
        }
    }

    #[test]
    fn stages_of_stages_fill_their_stretch_of_the_whole() {
        let heard = Heard::default();
        let second = Stage::named(&heard, "photo 2", 0.5, 1.0);
        let first_of_it = Stage::new(&second, 0.0, 0.5);
        first_of_it.step("tags", 0.0).unwrap();
        first_of_it.step("edges", 1.0).unwrap();
        let told = heard.0.into_inner().unwrap();
        let wanted = [("photo 2: tags", 0.5), ("photo 2: edges", 0.75)];
        assert_eq!(told, wanted.map(|(what, share)| (what.to_owned(), share)));
    }

    #[test]
    fn pieces_side_by_side_are_as_far_as_their_mean_and_never_go_back() {
        let heard = Heard::default();
        let abreast = Abreast::new(&heard, 4);
        for (piece, share) in [(0, 0.5), (3, 1.0), (0, 0.1), (0, 1.0), (9, 1.0)] {
            abreast.piece(piece).step("parts", share).unwrap();
        }
        let told = heard.0.into_inner().unwrap();
        let shares: Vec<f64> = told.iter().map(|t| t.1).collect();
        assert_eq!(shares, [0.125, 0.375, 0.375, 0.5, 0.5]);
    }
}
