//! What `--version` says: the version, and enough more to tell two builds apart.

use boundwalk::asked::{METHOD, SCHEMA};
use std::sync::LazyLock;

static LONG: LazyLock<String> = LazyLock::new(told);

/// The version, and what it was built from and with.
pub fn long() -> &'static str {
    &LONG
}

fn told() -> String {
    let features = [
        ("cli", cfg!(feature = "cli")),
        ("day", cfg!(feature = "day")),
        ("live", cfg!(feature = "live")),
        ("proj", cfg!(feature = "proj")),
        ("records", cfg!(feature = "records")),
        ("sheets", cfg!(feature = "sheets")),
    ];
    let built: Vec<&str> = features
        .iter()
        .filter_map(|(name, built)| built.then_some(*name))
        .collect();
    format!(
        "{}\ncommit    {}\nfeatures  {}\nPROJ      {}\nmethod    {METHOD}\nresults   {SCHEMA}",
        env!("CARGO_PKG_VERSION"),
        option_env!("BOUNDWALK_BUILT_FROM").unwrap_or("not noted in this build"),
        built.join(", "),
        boundwalk::grid::proj_version().unwrap_or_else(|| "not built in (feature proj)".to_owned()),
    )
}
