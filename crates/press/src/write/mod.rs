//! Writers: each makes one file format of drawings, and none knows another.

pub(crate) mod dxf;
pub(crate) mod pdf;
pub(crate) mod png;
mod print_scaling;
pub(crate) mod svg;
