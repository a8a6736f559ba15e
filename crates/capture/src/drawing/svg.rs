use super::{DrawingError, DrawingUnit, Scale, trace::Traces};
pub(super) fn read(_: &[u8], _: Option<DrawingUnit>, _: &mut Traces) -> Result<Scale, DrawingError> { Ok(Scale{unit_mm:1.0,stated:true}) }
