//! Properties that take long; tests of other crates run theirs by this file too.

/// Runs a slow property: `few` random cases, or as many as PROPTEST_CASES asks for, but never more than `most`. (The
/// macro of proptest would let that variable overrule any limit.)
pub fn slowly<S: proptest::strategy::Strategy>(
    few: u32,
    most: u32,
    given: &S,
    holds: impl Fn(S::Value) -> proptest::test_runner::TestCaseResult,
) {
    let asked = std::env::var("PROPTEST_CASES").ok();
    let asked = asked.and_then(|n| n.parse().ok()).unwrap_or(few);
    let config = proptest::test_runner::Config {
        cases: asked.min(most),
        failure_persistence: None,
        ..proptest::test_runner::Config::default()
    };
    let mut runner = proptest::test_runner::TestRunner::new(config);
    if let Err(e) = runner.run(given, holds) {
        panic!("{e}\n{runner}");
    }
}
