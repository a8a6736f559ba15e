//! What is done, in which order and by when.

mod bonding;
mod build;
mod closing;
mod laying;
mod order_out;
mod ready;
mod schedule;
mod teardown;

pub(crate) use build::{Kind, Planned, Work, build};
pub(crate) use closing::later;
pub use schedule::{Resources, ScheduleError, Task, Timing, schedule};
