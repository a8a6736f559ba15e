//! press
