//! arrange
