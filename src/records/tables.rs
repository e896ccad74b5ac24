//! What the layers of a file of records are called, and how working on it ends where it cannot go on.

use crate::fault::Fault;

/// Layers, each with a spatial index.
pub(crate) const LAYERS: [&str; 4] = ["lawns", "deductions", "walks", "bands"];

/// The view of them that shows each garden's lawns as last measured.
pub(crate) const LATEST: &str = "latest_lawns";

/// SQLite's error, or what is wrong with the file.
#[derive(Debug)]
pub enum Trouble {
    Sql(rusqlite::Error),
    Fault(Fault),
}

impl From<rusqlite::Error> for Trouble {
    fn from(error: rusqlite::Error) -> Trouble {
        Trouble::Sql(error)
    }
}
