//! ARCHITECTURE.md's table of crates is what the manifests say. (That none uses one that uses it, cargo itself sees to.)

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::PathBuf;

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../..")
}

/// Our own crates and which of them each one's `[dependencies]` name.
fn manifests() -> BTreeMap<String, BTreeSet<String>> {
    let folders: Vec<PathBuf> = fs::read_dir(root().join("crates"))
        .expect("the crates are there")
        .map(|e| e.expect("the folder can be read").path())
        .filter(|p| p.join("Cargo.toml").exists())
        .collect();
    let name = |p: &PathBuf| {
        p.file_name()
            .expect("a name")
            .to_string_lossy()
            .into_owned()
    };
    let names: BTreeSet<String> = folders.iter().map(name).collect();
    folders
        .iter()
        .map(|folder| {
            let text = fs::read_to_string(folder.join("Cargo.toml")).expect("a manifest");
            let own = text
                .lines()
                .skip_while(|l| l.trim() != "[dependencies]")
                .skip(1)
                .take_while(|l| !l.starts_with('['))
                .filter_map(|l| l.split(['=', '.']).next())
                .map(|n| n.trim().to_owned())
                .filter(|n| names.contains(n))
                .collect();
            (name(folder), own)
        })
        .collect()
}

/// The table under "Crates": first column the crate, last column what it may use.
fn table() -> BTreeMap<String, BTreeSet<String>> {
    let text = fs::read_to_string(root().join("ARCHITECTURE.md")).expect("the page is there");
    let quoted = |cell: &str| -> Vec<String> {
        cell.split('`')
            .skip(1)
            .step_by(2)
            .map(str::to_owned)
            .collect()
    };
    text.lines()
        .skip_while(|l| *l != "## Crates")
        .take_while(|l| !l.starts_with("## Invariants"))
        .filter(|l| l.starts_with("| `"))
        .filter_map(|l| {
            let cells: Vec<&str> = l.trim_matches('|').split('|').collect();
            let crate_name = quoted(cells.first()?).into_iter().next()?;
            Some((crate_name, quoted(cells.last()?).into_iter().collect()))
        })
        .collect()
}

#[test]
fn the_table_of_crates_is_what_the_manifests_say() {
    let (manifests, table) = (manifests(), table());
    assert!(manifests.len() >= 8, "{manifests:?}");
    assert_eq!(
        table, manifests,
        "left: ARCHITECTURE.md, right: the manifests"
    );
}
