//! How long work reports its progress and is told to stop.

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

/// A watch that hears nothing and never stops the work.
#[derive(Debug, Clone, Copy, Default)]
pub struct Silent;

impl Watch for Silent {
    fn step(&self, _what: &str, _share: f64) -> Result<(), Cancelled> {
        Ok(())
    }
}
