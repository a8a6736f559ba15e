//! JSON Schemas of the ledger's documents.

use schemars::schema_for;

/// A document of the ledger.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Document {
    /// [`crate::intake::Intake`].
    Intake,
    /// [`crate::intake::DeviceKind`].
    DeviceKind,
    /// [`crate::donors::Market`].
    Lots,
    /// [`crate::donors::LotChances`].
    LotChances,
    /// [`crate::drawer::Drawer`].
    Drawer,
    /// [`crate::cost::Rates`].
    Rates,
    /// [`crate::parcel::Carriage`].
    Carriage,
}

impl Document {
    /// Its JSON Schema (draft 2020-12).
    pub fn json_schema(self) -> serde_json::Value {
        let schema = match self {
            Self::Intake => schema_for!(crate::intake::Intake),
            Self::DeviceKind => schema_for!(crate::intake::DeviceKind),
            Self::Lots => schema_for!(crate::donors::Market),
            Self::LotChances => schema_for!(crate::donors::LotChances),
            Self::Drawer => schema_for!(crate::drawer::Drawer),
            Self::Rates => schema_for!(crate::cost::Rates),
            Self::Carriage => schema_for!(crate::parcel::Carriage),
        };
        schema.to_value()
    }
}
