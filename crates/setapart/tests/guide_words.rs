//! The guide's second language is complete: every phrase of the build plan has its German text.

use press::guide::Language;
use std::collections::BTreeSet;

/// The names in braces.
fn names(text: &str) -> BTreeSet<&str> {
    text.split('{')
        .skip(1)
        .filter_map(|rest| rest.split_once('}').map(|(name, _)| name))
        .collect()
}

#[test]
fn every_phrase_of_the_build_plan_is_told_in_german_with_the_same_numbers() {
    let english = mount::english();
    assert!(english.len() > 100);
    for (code, text) in english {
        let german = Language::German
            .template(code)
            .unwrap_or_else(|| panic!("{code} has no German text"));
        assert_eq!(names(text), names(german), "{code}");
        // A caution that says never says it in German too.
        if code.starts_with("rule.") && text.starts_with("Never") {
            assert!(german.to_lowercase().contains("nie"), "{code}");
        }
    }
}

/// Whatever an adhesive, a board or a rule of the catalogue rests on can stand in the guide's table of figures.
#[test]
fn every_source_of_the_catalogue_is_told_in_german() {
    fn walk(value: &serde_json::Value, found: &mut BTreeSet<String>) {
        match value {
            serde_json::Value::Object(fields) => {
                if let (Some(source), true) =
                    (fields.get("source"), fields.contains_key("standing"))
                {
                    found.insert(source.as_str().unwrap().to_owned());
                }
                fields.values().for_each(|v| walk(v, found));
            }
            serde_json::Value::Array(items) => items.iter().for_each(|v| walk(v, found)),
            _ => {}
        }
    }
    let catalogue = mount::Catalogue::built_in().unwrap();
    let mut sources = BTreeSet::new();
    walk(&serde_json::to_value(catalogue).unwrap(), &mut sources);
    assert!(sources.len() > 40);
    for source in sources {
        assert_ne!(Language::German.source(&source), source);
    }
}
