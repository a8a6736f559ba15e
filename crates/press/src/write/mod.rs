//! Writers: each makes one file format of drawings, and none knows another.

pub(crate) mod pdf;
pub(crate) mod png;
pub(crate) mod svg;
