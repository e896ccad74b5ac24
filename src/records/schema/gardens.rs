//! The part of the third step that SQL cannot do: it sorts the surveys of an older file, which were told apart by their names alone,
//! into gardens.
//!
//! Surveys are taken in the order in which they were recorded, each by the rule that new ones are added by. Revisions are
//! numbered anew within each garden; nothing is left out and no document is changed.

use crate::records::garden::{self, Seen};
use crate::records::tables::{LAYERS, Trouble};
use rusqlite::{Transaction, params};

/// Gives every survey its garden and its number there.
pub(crate) fn tell_apart(transaction: &Transaction<'_>) -> Result<(), Trouble> {
    let surveys: Vec<i64> = transaction
        .prepare("SELECT id FROM surveys ORDER BY id")?
        .query_map([], |row| row.get(0))?
        .collect::<Result<_, _>>()?;
    for survey in surveys {
        let (name, job, place) = transaction
            .prepare_cached("SELECT name, job, lat, lon FROM surveys WHERE id = ?1")?
            .query_row([survey], |row| {
                let place = row.get::<_, f64>(2).ok().zip(row.get::<_, f64>(3).ok());
                // Damage in one record must not keep the others out of reach.
                let text = |at| row.get::<_, String>(at).ok();
                Ok((text(0).unwrap_or_default(), text(1), place))
            })?;
        let logs: Vec<String> = transaction
            .prepare_cached(
                "SELECT sha256 FROM log_files WHERE survey_id = ?1 AND typeof(sha256) = 'text'",
            )?
            .query_map([survey], |row| row.get(0))?
            .collect::<Result<_, _>>()?;
        let seen = Seen {
            name: &name,
            job: job.as_deref(),
            place,
            outline: garden::outline(transaction, survey)?,
            logs: logs.iter().map(String::as_str).collect(),
        };
        let (garden, revision) = garden::next_revision(transaction, &seen)?;
        transaction
            .prepare_cached("UPDATE surveys SET garden = ?2, revision = ?3 WHERE id = ?1")?
            .execute([survey, garden, revision])?;
        for layer in LAYERS {
            transaction
                .prepare_cached(&format!(
                    "UPDATE {layer} SET garden = ?2, revision = ?3 WHERE survey_id = ?1"
                ))?
                .execute(params![survey, garden, revision])?;
        }
        garden::remember(transaction, garden, survey, &seen)?;
    }
    Ok(())
}
