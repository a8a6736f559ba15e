//! Tells the program which commit it was built from.

use std::process::Command;

fn main() {
    println!("cargo:rerun-if-env-changed=SETAPART_COMMIT");
    let commit = std::env::var("SETAPART_COMMIT")
        .ok()
        .filter(|c| !c.is_empty())
        .or_else(commit_of_checkout);
    let version = std::env::var("CARGO_PKG_VERSION").unwrap_or_default();
    let version = match commit {
        Some(commit) => format!("{version} ({commit})"),
        None => version,
    };
    println!("cargo:rustc-env=SETAPART_VERSION={version}");
}

/// The checkout's commit, shortened; nothing outside a checkout, or without git. Only a release tells it: other builds
/// would be made anew after each commit.
fn commit_of_checkout() -> Option<String> {
    if std::env::var("PROFILE").is_ok_and(|p| p != "release") {
        println!("cargo:rerun-if-changed=build.rs");
        return None;
    }
    // HEAD names a branch, whose own file changes with each commit.
    for name in ["HEAD", "logs/HEAD"] {
        if let Some(path) = git(&["rev-parse", "--git-path", name]) {
            println!("cargo:rerun-if-changed={path}");
        }
    }
    git(&["rev-parse", "--short=10", "HEAD"])
}

fn git(args: &[&str]) -> Option<String> {
    let output = Command::new("git").args(args).output().ok()?;
    let text = String::from_utf8(output.stdout).ok()?;
    let text = text.trim();
    (output.status.success() && !text.is_empty()).then(|| text.to_owned())
}
