//! The names of the layers in a file of records, and the error with which work on it ends where it cannot go on.

use crate::fault::Fault;

/// The layers of a map, each with a spatial index.
pub(crate) const LAYERS: [&str; 4] = ["lawns", "deductions", "walks", "bands"];

/// The view that shows each garden's lawns as last measured.
pub(crate) const LATEST: &str = "latest_lawns";

/// An error of SQLite, or a fault that says what is wrong with the file.
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
