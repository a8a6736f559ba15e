//! What the shop has set: units, money, language, light or dark.

use crate::database::Fault;
use crate::workshop::Writing;
use crate::{Subject, Workshop, WorkshopError};
use rusqlite::{Connection, params};
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

/// Units that lengths are shown in. Stored lengths are always mm.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Units {
    /// Millimetres.
    #[default]
    Millimetres,
    /// Inches.
    Inches,
}

/// Light or dark pages.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Theme {
    /// As the system says.
    #[default]
    System,
    /// Light.
    Light,
    /// Dark.
    Dark,
}

/// The shop's settings. A name that this version does not know is kept as it is.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Settings {
    /// Units that lengths are shown in.
    pub units: Units,
    /// Money, three letters (ISO 4217).
    pub currency: String,
    /// Language of pages and guides (BCP 47).
    pub language: String,
    /// Light or dark pages.
    pub theme: Theme,
    /// Paper of tiled sheets: `a4`, `letter`, `a3` or `tabloid`.
    pub paper: String,
    /// What the printer makes of 100 mm along x and y, measured on the bars; `None` where nobody measured.
    pub printed_mm: Option<[f64; 2]>,
    /// Others, such as overridden defaults of a stage.
    #[serde(flatten)]
    pub others: Map<String, Value>,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            units: Units::default(),
            currency: "EUR".into(),
            language: "en".into(),
            theme: Theme::default(),
            paper: "a4".into(),
            printed_mm: None,
            others: Map::new(),
        }
    }
}

impl Workshop {
    /// The settings; what was never set, or cannot be read, is as usual.
    ///
    /// # Errors
    /// Where the database cannot be read.
    pub fn settings(&self) -> Result<Settings, WorkshopError> {
        self.read(|db| Ok(stored(db)?))
    }

    /// Changes the settings as they are now: nobody else changes them between. Where `change` fails, nothing is stored. It must
    /// not ask this store for anything else.
    ///
    /// # Errors
    /// What `change` says; [`WorkshopError::Refused`] for a currency that is not three capital letters, or bars that cannot be.
    pub fn change_settings<T, E: From<WorkshopError>>(
        &self,
        change: impl FnOnce(&mut Settings) -> Result<T, E>,
    ) -> Result<T, E> {
        self.write(|w| {
            let before = stored(w.db)?;
            let mut settings = before.clone();
            let made = match change(&mut settings) {
                Ok(made) => made,
                Err(e) => return Ok(Err(e)),
            };
            if settings != before {
                store(w, &settings)?;
            }
            Ok(Ok(made))
        })?
    }
}

fn stored(db: &Connection) -> rusqlite::Result<Settings> {
    let mut statement = db.prepare_cached("SELECT name, value FROM setting")?;
    let rows = statement.query_map([], |row| {
        Ok((row.get::<_, String>(0)?, row.get::<_, String>(1)?))
    })?;
    let mut usual = serde_json::to_value(Settings::default()).unwrap_or_default();
    for row in rows {
        let (name, value) = row?;
        let (Some(object), Ok(value)) = (usual.as_object_mut(), serde_json::from_str(&value))
        else {
            continue;
        };
        let before = object.insert(name.clone(), value);
        // One odd value must not take the others with it.
        if serde_json::from_value::<Settings>(usual.clone()).is_err()
            && let (Some(object), Some(before)) = (usual.as_object_mut(), before)
        {
            object.insert(name, before);
        }
    }
    Ok(serde_json::from_value(usual).unwrap_or_default())
}

fn store(w: &Writing<'_>, settings: &Settings) -> Result<(), Fault> {
    let refused = |what, problem: &str| {
        Err(Fault::from(WorkshopError::Refused {
            what,
            problem: problem.into(),
        }))
    };
    if settings.currency.len() != 3 || !settings.currency.bytes().all(|b| b.is_ascii_uppercase()) {
        return refused("currency", "must be three capital letters, such as EUR");
    }
    if settings
        .printed_mm
        .is_some_and(|p| !p.iter().all(|v| (50.0..=200.0).contains(v)))
    {
        return refused("printed_mm", "must be what a bar of 100 mm measures");
    }
    let value = serde_json::to_value(settings).unwrap_or_default();
    w.db.execute("DELETE FROM setting", [])?;
    for (name, value) in value.as_object().into_iter().flatten() {
        w.db.execute(
            "INSERT INTO setting (name, value) VALUES (?1, ?2)",
            params![name, value.to_string()],
        )?;
    }
    w.happened(Subject::Settings, None, None)
}
