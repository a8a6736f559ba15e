//! lettering
