//! What is made from the commands' definitions.

mod common;

use common::{folder, run};
use std::fs;
use std::path::PathBuf;

/// The folder that `manual` wrote into.
fn written(test: &str) -> PathBuf {
    let out = folder(test);
    let done = run(["manual".as_ref(), "--out".as_ref(), out.as_os_str()]);
    assert_eq!(done.status, Some(0), "{}", done.err);
    out
}

/// The committed reference is what the program writes today.
#[test]
fn the_command_reference_in_the_docs_is_the_programs_own() {
    let made = fs::read_to_string(written("manual").join("commands.md")).expect("it is there");
    let kept = concat!(env!("CARGO_MANIFEST_DIR"), "/../../docs/commands.md");
    let kept = fs::read_to_string(kept).unwrap_or_default();
    assert!(
        made == kept,
        "write it anew: setapart manual --out DIR, and keep DIR/commands.md as docs/commands.md"
    );
}

#[test]
fn every_command_has_a_man_page_and_every_shell_its_completions() {
    let out = written("manual-pages");
    let page = fs::read_to_string(out.join("man/setapart-capture.1")).expect("it is there");
    for word in ["thicknesses", "printed\\-x", "tidy"] {
        assert!(page.contains(word), "{word}");
    }
    for file in [
        "setapart.bash",
        "_setapart",
        "setapart.fish",
        "setapart.ps1",
    ] {
        let script = fs::read_to_string(out.join("completions").join(file)).expect("it is there");
        assert!(script.contains("capture-sheet"), "{file}");
    }
    // What is hidden stays hidden there too.
    assert!(!out.join("man/setapart-strip-fill.1").exists());
}

#[test]
fn the_version_names_the_program() {
    let done = run(["--version"]);
    let start = concat!("setapart ", env!("CARGO_PKG_VERSION"));
    assert!(done.out.starts_with(start), "{}", done.out);
}
