//! Joins files of records, as when a head office takes over what its branches recorded.
//!
//! What a file has already is not taken again, so a merge that was broken off can simply be run once more. A garden that both files
//! have is one garden, by the same rules as when it is measured. Its revisions are numbered in the order in which they were recorded; one
//! that comes between others raises the numbers of those after it. Nothing else of what is recorded is changed.

use super::Records;
use super::add::{Extents, changed, reach, version_id};
use super::blob;
use super::garden::{self, Seen};
use super::look::{COLUMNS, Record, damaged_row, record};
use super::tables::{LAYERS, Trouble};
use crate::fault::Fault;
use crate::write::inputs::same;
use rusqlite::types::Value;
use rusqlite::{Connection, OptionalExtension, Transaction, TransactionBehavior, params};
use std::collections::{BTreeSet, HashMap};
use std::path::Path;

/// How many surveys are taken over in one transaction.
const AT_ONCE: usize = 500;
/// Tables with rows of each survey, besides [`LAYERS`].
const TABLES: [&str; 4] = ["orders", "log_files", "settings", "warnings"];

/// What came of a merge.
#[derive(Debug, Default)]
#[non_exhaustive]
pub struct Merged {
    /// Surveys taken over.
    pub added: u64,
    /// Surveys that were there already.
    pub known: u64,
    /// Gardens of which a revision came between others, whose numbers changed.
    pub renumbered: BTreeSet<i64>,
    /// For each damaged row, which was left out, what is wrong with it.
    pub damaged: Vec<Fault>,
}

impl Records {
    /// Takes over everything that another file has and this one has not.
    ///
    /// # Errors
    /// The same file, a file that cannot be read or written, a full disk. What was taken over before is kept.
    pub fn merge(&mut self, from: &Path) -> Result<Merged, Fault> {
        if same(&self.path, from) {
            return Err(Fault::usage(
                "same-records",
                "this is the file that others are to be taken into.",
                "Name the other files after it.",
            )
            .in_file(from.display().to_string()));
        }
        let mut other = Records::look_into(from)?;
        let read = |error: rusqlite::Error| super::told(from, error.into());
        // All is read in one transaction, so that what another program records meanwhile is not seen in part.
        let other = other.connection.transaction().map_err(read)?;
        let ids = by_time(&other).map_err(read)?;
        let mut merged = Merged::default();
        // For each garden of the other file, its number in this one.
        let mut gardens = HashMap::new();
        for batch in ids.chunks(AT_ONCE) {
            let path = self.path.clone();
            self.take(&other, batch, &mut gardens, &mut merged)
                .map_err(|error| super::told(&path, error))?;
        }
        let file = from.display().to_string();
        let damaged = std::mem::take(&mut merged.damaged).into_iter();
        merged.damaged = damaged.map(|fault| fault.in_file(file.clone())).collect();
        Ok(merged)
    }

    /// Takes over a batch of surveys in one transaction.
    fn take(
        &mut self,
        other: &Connection,
        batch: &[i64],
        gardens: &mut HashMap<i64, i64>,
        merged: &mut Merged,
    ) -> Result<(), Trouble> {
        let transaction = self
            .connection
            .transaction_with_behavior(TransactionBehavior::Immediate)?;
        let mut extents = Extents::new();
        let added_before = merged.added;
        let mut out_of_turn = BTreeSet::new();
        for &id in batch {
            let one = match whole(other, id)? {
                Ok(one) => one,
                Err(fault) => {
                    merged.damaged.push(fault);
                    continue;
                }
            };
            if let Some(garden) = known(&transaction, &one)? {
                gardens.insert(one.record.garden, garden);
                merged.known += 1;
                continue;
            }
            let garden = copy(&transaction, other, &one, gardens, &mut extents)?;
            merged.added += 1;
            if is_late(&transaction, garden, &one.record.recorded_at)? {
                out_of_turn.insert(garden);
            }
        }
        for garden in out_of_turn {
            put_in_order(&transaction, garden)?;
            merged.renumbered.insert(garden);
        }
        if merged.added > added_before {
            changed(&transaction, &extents)?;
        }
        transaction.commit()?;
        Ok(())
    }
}

/// What must be known of a survey of the other file in order to copy it.
struct Survey {
    record: Record,
    fingerprint: Option<String>,
    document: String,
    result_schema: String,
}

/// The numbers of all surveys in the order in which they were recorded, so that revisions keep theirs.
fn by_time(other: &Connection) -> rusqlite::Result<Vec<i64>> {
    let mut all = other.prepare("SELECT id FROM surveys ORDER BY recorded_at, id")?;
    all.query_map([], |row| row.get(0))?.collect()
}

/// A survey of the other file; the inner fault where its row is damaged.
fn whole(other: &Connection, id: i64) -> rusqlite::Result<Result<Survey, Fault>> {
    let sql = format!(
        "SELECT {COLUMNS}, s.fingerprint, s.document, v.result_schema FROM surveys s JOIN versions v ON v.id = s.version_id WHERE s.id = ?1"
    );
    let mut statement = other.prepare_cached(&sql)?;
    let mut rows = statement.query([id])?;
    let Some(row) = rows.next()? else {
        return Ok(Err(Fault::unreadable(
            "records-damaged",
            format!("row {id} of the table surveys names no version of a program."),
            "Measure it again from its logs.",
        )));
    };
    let read = || -> rusqlite::Result<Survey> {
        Ok(Survey {
            record: record(row)?,
            fingerprint: row.get("fingerprint")?,
            document: row.get("document")?,
            result_schema: row.get("result_schema")?,
        })
    };
    Ok(read().map_err(|error| damaged_row(row, &error)))
}

/// The garden of this file that has this very survey already: the same name, time of recording, fingerprint and document.
fn known(transaction: &Transaction<'_>, one: &Survey) -> rusqlite::Result<Option<i64>> {
    let found = params![
        one.record.name,
        one.record.recorded_at,
        one.fingerprint,
        one.document
    ];
    transaction
        .prepare_cached(
            "SELECT garden FROM surveys WHERE name = ?1 AND recorded_at = ?2 AND fingerprint IS ?3 AND document = ?4",
        )?
        .query_row(found, |row| row.get(0))
        .optional()
}

/// Copies a survey with all of its rows; gives its garden in this file.
fn copy(
    transaction: &Transaction<'_>,
    other: &Connection,
    one: &Survey,
    gardens: &mut HashMap<i64, i64>,
    extents: &mut Extents,
) -> Result<i64, Trouble> {
    let logs = logs(other, one.record.id)?;
    let seen = Seen {
        name: &one.record.name,
        job: one.record.job.as_deref(),
        place: one.record.lat.zip(one.record.lon),
        outline: garden::outline(other, one.record.id)?,
        logs: logs.iter().map(String::as_str).collect(),
    };
    // Surveys of one garden in the other file stay surveys of one garden.
    let (garden, revision) = match gardens.get(&one.record.garden) {
        Some(garden) => (*garden, garden::next_of(transaction, *garden)?),
        None => garden::next_revision(transaction, &seen)?,
    };
    gardens.insert(one.record.garden, garden);
    let version = version_id(transaction, &one.record.program, &one.result_schema)?;
    let new = [
        ("version_id", version),
        ("garden", garden),
        ("revision", revision),
    ];
    rows(other, "surveys", one.record.id, |columns, values| {
        insert(transaction, "surveys", columns, values, &new)
    })?;
    let survey = transaction.last_insert_rowid();
    garden::remember(transaction, garden, survey, &seen)?;
    for table in TABLES {
        rows(other, table, one.record.id, |columns, values| {
            insert(
                transaction,
                table,
                columns,
                values,
                &[("survey_id", survey)],
            )
        })?;
    }
    let new = [
        ("survey_id", survey),
        ("garden", garden),
        ("revision", revision),
    ];
    copy_layers(transaction, other, one, &new, extents)?;
    Ok(garden)
}

/// Copies what a map shows of a survey, and widens the layers' extents by it.
fn copy_layers(
    transaction: &Transaction<'_>,
    other: &Connection,
    one: &Survey,
    new: &[(&str, i64)],
    extents: &mut Extents,
) -> Result<(), Trouble> {
    for layer in LAYERS {
        rows(other, layer, one.record.id, |columns, values| {
            let geometry = values.iter().find_map(|value| match value {
                Value::Blob(bytes) => blob::envelope(bytes),
                _ => None,
            });
            if let Some(envelope) = geometry {
                reach(extents, layer, envelope);
            }
            insert(transaction, layer, columns, values, new)
        })?;
    }
    Ok(())
}

/// The SHA-256 of the logs that a survey was measured from.
fn logs(other: &Connection, survey: i64) -> rusqlite::Result<Vec<String>> {
    other
        .prepare_cached(
            "SELECT sha256 FROM log_files WHERE survey_id = ?1 AND typeof(sha256) = 'text'",
        )?
        .query_map([survey], |row| row.get(0))?
        .collect()
}

/// Hands each row that a table has of a survey to `each`: the names of its columns and what stands in them.
fn rows(
    other: &Connection,
    table: &str,
    survey: i64,
    mut each: impl FnMut(&[String], Vec<Value>) -> rusqlite::Result<()>,
) -> rusqlite::Result<()> {
    let key = if table == "surveys" {
        "id"
    } else {
        "survey_id"
    };
    let mut statement = other.prepare_cached(&format!(
        "SELECT * FROM {table} WHERE {key} = ?1 ORDER BY id"
    ))?;
    let columns: Vec<String> = statement
        .column_names()
        .into_iter()
        .map(str::to_owned)
        .collect();
    let mut rows = statement.query([survey])?;
    while let Some(row) = rows.next()? {
        let values = (0..columns.len()).map(|at| row.get(at));
        each(&columns, values.collect::<rusqlite::Result<_>>()?)?;
    }
    Ok(())
}

/// Puts a row of the other file into a table of this one. It gets a new number (`id`), and the values of `new` in place of its own.
fn insert(
    transaction: &Transaction<'_>,
    table: &str,
    columns: &[String],
    values: Vec<Value>,
    new: &[(&str, i64)],
) -> rusqlite::Result<()> {
    let (names, values): (Vec<&str>, Vec<Value>) = columns
        .iter()
        .zip(values)
        .filter(|(name, _)| *name != "id")
        .map(
            |(name, value)| match new.iter().find(|(of, _)| of == name) {
                Some((_, number)) => (name.as_str(), Value::Integer(*number)),
                None => (name.as_str(), value),
            },
        )
        .unzip();
    let places = vec!["?"; names.len()].join(", ");
    transaction
        .prepare_cached(&format!(
            "INSERT INTO {table} ({}) VALUES ({places})",
            names.join(", ")
        ))?
        .execute(rusqlite::params_from_iter(values))?;
    Ok(())
}

/// Whether the garden has a revision that was recorded later than this time.
fn is_late(
    transaction: &Transaction<'_>,
    garden: i64,
    recorded_at: &str,
) -> rusqlite::Result<bool> {
    transaction
        .prepare_cached("SELECT 1 FROM surveys WHERE garden = ?1 AND recorded_at > ?2")?
        .exists(params![garden, recorded_at])
}

/// Numbers the revisions of a garden in the order in which they were recorded, and has the latest one with an outline stand for the garden.
fn put_in_order(transaction: &Transaction<'_>, garden: i64) -> Result<(), Trouble> {
    let ids: Vec<i64> = transaction
        .prepare_cached("SELECT id FROM surveys WHERE garden = ?1 ORDER BY recorded_at, id")?
        .query_map([garden], |row| row.get(0))?
        .collect::<Result<_, _>>()?;
    // No two rows of a garden may have one number even for a moment, so all are made negative before the new ones are given.
    transaction
        .prepare_cached("UPDATE surveys SET revision = -revision WHERE garden = ?1")?
        .execute([garden])?;
    for (id, revision) in ids.iter().zip(1_i64..) {
        transaction
            .prepare_cached("UPDATE surveys SET revision = ?2 WHERE id = ?1")?
            .execute([*id, revision])?;
        for layer in LAYERS {
            transaction
                .prepare_cached(&format!(
                    "UPDATE {layer} SET revision = ?2 WHERE survey_id = ?1"
                ))?
                .execute([*id, revision])?;
        }
    }
    let shows: Option<i64> = transaction
        .prepare_cached(
            "SELECT s.id FROM surveys s WHERE s.garden = ?1 AND EXISTS (SELECT 1 FROM lawns l WHERE l.survey_id = s.id AND l.geom NOT NULL) \
             ORDER BY s.revision DESC LIMIT 1",
        )?
        .query_row([garden], |row| row.get(0))
        .optional()?;
    if let Some(shows) = shows {
        let (name, job): (String, Option<String>) = transaction
            .prepare_cached("SELECT name, job FROM surveys WHERE id = ?1")?
            .query_row([shows], |row| Ok((row.get(0)?, row.get(1)?)))?;
        let seen = Seen {
            name: &name,
            job: job.as_deref(),
            place: None,
            outline: garden::outline(transaction, shows)?,
            logs: Vec::new(),
        };
        garden::remember(transaction, garden, shows, &seen)?;
    }
    Ok(())
}
