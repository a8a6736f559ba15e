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
