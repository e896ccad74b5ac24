//! What tests keep for readers made elsewhere: `.ci/kept` holds it against the schemas of `docs`, and lets others read it. Rust's
//! own checker of schemas takes longer to build than the rest of what tests need.

use std::io::Write;
use std::path::Path;

/// Keeps a file of this kind in the folder that `BOUNDWALK_KEPT` names; does nothing where it names none.
pub fn keep(kind: &str, bytes: &[u8]) {
    let Some(all) = std::env::var_os("BOUNDWALK_KEPT") else {
        return;
    };
    let folder = Path::new(&all).join(kind);
    std::fs::create_dir_all(&folder).unwrap();
    let test = std::thread::current();
    let test = test.name().unwrap_or_default().replace("::", ".");
    let name = tempfile::Builder::new().prefix(&test).tempfile_in(folder);
    let (mut file, _) = name.unwrap().keep().unwrap();
    file.write_all(bytes).unwrap();
}
