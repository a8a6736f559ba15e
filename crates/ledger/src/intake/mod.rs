//! Is it dead? What to do with a device that came in.
//!
//! A kind of device knows a few conditions that it can be in (one part failed, a fault of the power supply, corrosion,
//! and so on), how often each is met, and how likely each sign is in each. The signs that were seen turn the usual shares
//! into chances for this device (Bayes, signs independent given the condition). Repair, donor and display are then
//! weighed by what they bring on the average.

mod form;
mod judge;
mod kind;
mod outcomes;
mod payoffs;
mod tables;

pub use form::{Intake, IntakeMoney, IntakePart, PartState};
pub use judge::{
    Action, ActionKind, CheckWorth, ConditionChance, PartYield, Verdict, Warning, judge,
};
pub use kind::{DeviceCondition, DeviceKind, Sign, SignValue, Yields};
pub use outcomes::{Case, Experience};
