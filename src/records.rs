//! Records that last: every survey measured, in an OGC GeoPackage, which is an SQLite database with tables of fixed form that any GIS
//! (program for maps) opens.
//!
//! Measuring a survey again adds a revision; nothing recorded is ever changed, but for the numbers of revisions where files
//! are joined. Several programs may write at once: each batch of surveys is one transaction that waits its turn. SQLite's
//! rollback journal puts right what a killed program left half written, so a record is there whole or not at all.
//!
//! # References
//! OGC 12-128r17, GeoPackage Encoding Standard, version 1.3.1; nothing in it is at odds with version 1.4.0 (OGC 12-128r19), by which
//! tests count requirements.

#[doc(hidden)]
pub mod add;
#[doc(hidden)]
pub mod blob;
pub mod compare;
pub mod entry;
pub mod find;
#[doc(hidden)]
pub mod garden;
pub mod look;
pub mod merge;
mod ordered;
pub mod report;
#[doc(hidden)]
pub mod schema;
mod tables;

use crate::fault::Fault;
use rusqlite::functions::FunctionFlags;
use rusqlite::{Connection, ErrorCode, OpenFlags};
use std::path::{Path, PathBuf};
use std::time::Duration;

/// How long to wait for another program that is writing. Transactions are short, so one that takes a minute is from a program that hangs.
const PATIENCE: Duration = Duration::from_secs(60);

/// An open file of records.
#[derive(Debug)]
pub struct Records {
    connection: Connection,
    path: PathBuf,
}

impl Records {
    /// Checks that records may be kept under this name: a new file, or one of records. Nothing is written.
    ///
    /// # Errors
    /// A name that does not end in `.gpkg` (Requirement 3), or a file that is something else.
    pub fn may_be(path: &Path) -> Result<(), Fault> {
        if path.extension().is_none_or(|ending| ending != "gpkg") {
            return Err(Fault::usage(
                "records-name",
                "the name of a file of records ends in .gpkg.",
                "Name it so: GIS programs know a GeoPackage by its ending.",
            )
            .in_file(path.display().to_string()));
        }
        match std::fs::metadata(path) {
            Err(_) => return Ok(()),
            Ok(meta) if !meta.is_file() => {
                return Err(Fault::usage(
                    "not-records",
                    "this is no file.",
                    "Name a file of records, or a new file.",
                )
                .in_file(path.display().to_string()));
            }
            Ok(_) => {}
        }
        // It is opened only for reading, so that a database of another program is not touched.
        let looked =
            Records::connect(path, OpenFlags::SQLITE_OPEN_READ_ONLY).and_then(|mut records| {
                schema::check(&mut records.connection)
                    .map(drop)
                    .map_err(|error| records.told(error))
            });
        match looked {
            Err(fault) if matches!(fault.code(), "not-records" | "records-newer") => {
                Err(Fault::usage(fault.code(), fault.what(), fault.advice())
                    .in_file(path.display().to_string()))
            }
            // Anything else that is wrong comes up when the file is opened, which also repairs what a killed run left behind.
            _ => Ok(()),
        }
    }

    /// Opens a file of records to add to it, making it if it is not there and bringing an older one up to date.
    ///
    /// # Errors
    /// A name that does not end in `.gpkg` (Requirement 3), a file that is something else or from a newer version, or one
    /// that cannot be written.
    pub fn open(path: &Path) -> Result<Records, Fault> {
        Records::may_be(path)?;
        let mut records = Records::connect(
            path,
            OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_CREATE,
        )?;
        schema::bring_up(&mut records.connection, schema::NEWEST)
            .map_err(|error| records.told(error))?;
        Ok(records)
    }

    /// Opens a file of records to look into it.
    ///
    /// # Errors
    /// As [`Records::open`], and a file that is not there.
    pub fn look_into(path: &Path) -> Result<Records, Fault> {
        if !path.is_file() {
            return Err(Fault::unreadable(
                "no-such-file",
                "there is no such file of records.",
                "Check the name; `boundwalk day --records FILE.gpkg` begins one.",
            )
            .in_file(path.display().to_string()));
        }
        // Opened for writing as well where that is allowed, since only then can SQLite repair what a killed program left behind.
        let mut records = Records::connect(path, OpenFlags::SQLITE_OPEN_READ_WRITE)
            .and_then(|mut records| {
                schema::bring_up(&mut records.connection, schema::NEWEST)
                    .map_err(|error| records.told(error))?;
                Ok(records)
            })
            .or_else(|fault| match fault.code() {
                "records-unwritable" => Records::connect(path, OpenFlags::SQLITE_OPEN_READ_ONLY),
                _ => Err(fault),
            })?;
        let version =
            schema::check(&mut records.connection).map_err(|error| records.told(error))?;
        if version < schema::NEWEST {
            return Err(Fault::unreadable(
                "records-unwritable",
                "these records were written by an older boundwalk and must be brought up to date first, but the file cannot be written.",
                "Copy it to where you may write, and look into the copy.",
            )
            .in_file(path.display().to_string()));
        }
        Ok(records)
    }

    /// Opens the database with the settings that every connection has.
    fn connect(path: &Path, flags: OpenFlags) -> Result<Records, Fault> {
        let connected = || -> rusqlite::Result<Connection> {
            let connection =
                Connection::open_with_flags(path, flags | OpenFlags::SQLITE_OPEN_NO_MUTEX)?;
            connection.busy_timeout(PATIENCE)?;
            connection.pragma_update(None, "foreign_keys", true)?;
            // Code that another program put into the file's schema is never run.
            connection.pragma_update(None, "trusted_schema", false)?;
            connection.set_prepared_statement_cache_capacity(64);
            functions(&connection)?;
            Ok(connection)
        };
        match connected() {
            Ok(connection) => Ok(Records {
                connection,
                path: path.to_owned(),
            }),
            Err(error) => Err(told(path, error.into())),
        }
    }

    fn told(&self, error: tables::Trouble) -> Fault {
        told(&self.path, error)
    }
}

/// The functions that the triggers of the standard's Annex F.3 call. They are harmless and free of side effects, and so allowed in triggers.
fn functions(connection: &Connection) -> rusqlite::Result<()> {
    let flags = FunctionFlags::SQLITE_UTF8
        | FunctionFlags::SQLITE_DETERMINISTIC
        | FunctionFlags::SQLITE_INNOCUOUS;
    connection.create_scalar_function("ST_IsEmpty", 1, flags, |call| {
        Ok(call.get_raw(0).as_blob().ok().and_then(blob::is_empty))
    })?;
    type Side = fn(blob::Envelope) -> f64;
    let sides: [(&str, Side); 4] = [
        ("ST_MinX", |e| e.min_x),
        ("ST_MaxX", |e| e.max_x),
        ("ST_MinY", |e| e.min_y),
        ("ST_MaxY", |e| e.max_y),
    ];
    for (name, side) in sides {
        connection.create_scalar_function(name, 1, flags, move |call| {
            Ok(call
                .get_raw(0)
                .as_blob()
                .ok()
                .and_then(blob::envelope)
                .map(side))
        })?;
    }
    Ok(())
}

/// What went wrong with the file, in words.
fn told(path: &Path, trouble: tables::Trouble) -> Fault {
    let error = match trouble {
        tables::Trouble::Fault(fault) => return fault.in_file(path.display().to_string()),
        tables::Trouble::Sql(error) => error,
    };
    let (code, what, advice) = match error.sqlite_error_code() {
        Some(ErrorCode::NotADatabase) => (
            "not-records",
            "this is not a GeoPackage.".to_owned(),
            "Name a file of records, or a new file.",
        ),
        Some(ErrorCode::DatabaseCorrupt) => (
            "records-damaged",
            "this file of records is damaged.".to_owned(),
            "Take it from a backup; what has been measured can be measured again from the logs.",
        ),
        Some(ErrorCode::DiskFull) => (
            "records-full",
            "there is no room left on the disk for the records.".to_owned(),
            "What was recorded before is kept whole: make room and run again, and it goes on from there.",
        ),
        Some(ErrorCode::SystemIoFailure) => (
            "records-full",
            format!("the records could not be written ({error})."),
            "What was recorded before is kept whole: check the disk and its room, and run again.",
        ),
        Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => (
            "records-in-use",
            "another program has been writing these records for a minute.".to_owned(),
            "Wait for it or close it, then run again.",
        ),
        Some(ErrorCode::ReadOnly | ErrorCode::CannotOpen | ErrorCode::PermissionDenied) => (
            "records-unwritable",
            format!("the records cannot be opened for writing ({error})."),
            "Check that the folder is there and that you may write in it.",
        ),
        _ => (
            "records",
            format!("the records could not be used ({error})."),
            "Check that it is a file of records made by boundwalk.",
        ),
    };
    Fault::unreadable(code, what, advice).in_file(path.display().to_string())
}
