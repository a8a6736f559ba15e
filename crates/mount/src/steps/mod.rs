//! What is done, in which order and by when.

mod build;
mod laying;
mod order_out;
mod schedule;
mod teardown;

pub(crate) use build::{Kind, Planned, Work, build, later};
pub use schedule::{Resources, ScheduleError, Task, Timing, schedule};
