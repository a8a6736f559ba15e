//! What is done, in which order and by when.

mod build;
mod laying;
mod schedule;

pub(crate) use build::{Work, build, later};
pub use schedule::{Resources, ScheduleError, Task, Timing, schedule};
