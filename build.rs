//! Tells the program which commit it is built from, for `boundwalk --version`.
//!
//! Only what is to be used for real says so: builds for development would otherwise compile the crate anew after each commit.

use std::path::Path;
use std::process::Command;

fn main() {
    println!("cargo:rerun-if-changed=build.rs");
    println!("cargo:rerun-if-env-changed=BOUNDWALK_COMMIT");
    // `dist` and `bench` inherit from `release`, and count as it.
    let optimised = std::env::var("PROFILE").is_ok_and(|profile| profile == "release");
    let told = std::env::var("BOUNDWALK_COMMIT").ok();
    let commit = told.or_else(|| optimised.then(|| packaged().or_else(checked_out)).flatten());
    if let Some(commit) = commit {
        println!("cargo:rustc-env=BOUNDWALK_BUILT_FROM={commit}");
    }
}

/// What `cargo package` notes in the archive of sources that it makes.
fn packaged() -> Option<String> {
    let note = std::fs::read_to_string(".cargo_vcs_info.json").ok()?;
    let (_, rest) = note.split_once("\"sha1\": \"")?;
    Some(shortened(rest.split('"').next()?))
}

/// What git says of the checkout this is. Where there is no git, or these are sources without their history, nothing is said.
fn checked_out() -> Option<String> {
    // Sources unpacked inside another project's checkout are none of that project's commits.
    if !Path::new(".git").exists() {
        return None;
    }
    // Written at every commit and checkout; with the sources, whatever changes the answer.
    for path in [".git/logs/HEAD", "src", "Cargo.toml", "Cargo.lock"] {
        if Path::new(path).exists() {
            println!("cargo:rerun-if-changed={path}");
        }
    }
    let git = |args: &[&str]| Command::new("git").args(args).output().ok();
    let head = git(&["rev-parse", "HEAD"]).filter(|said| said.status.success())?;
    let commit = shortened(String::from_utf8_lossy(&head.stdout).trim());
    let sources = [
        "diff",
        "--quiet",
        "HEAD",
        "--",
        "src",
        "build.rs",
        "Cargo.toml",
        "Cargo.lock",
    ];
    Some(match git(&sources)?.status.success() {
        true => commit,
        false => format!("{commit}, with changes"),
    })
}

/// Twelve digits name a commit among millions.
fn shortened(hash: &str) -> String {
    hash.chars().take(12).collect()
}
