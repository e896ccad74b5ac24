//! Finds the one record that is asked for by a name, a job number or a garden's number. Where several gardens are called the same, or none
//! is, the fault says what there is.

use super::Records;
use super::garden::{called, job, own, whole};
use super::look::{COLUMNS, Record, Wanted, record};
use crate::fault::Fault;
use rusqlite::{OptionalExtension, params};

/// What stands before a garden's number where that is given in place of a name.
const BY_NUMBER: &str = "garden:";
/// Where several gardens are called the same, so many of them are told of.
const TOLD: usize = 10;

impl Records {
    /// One record: `NAME` for the latest revision of that garden, `NAME@2` for the second. In the place of the name may stand
    /// a job number, the last part of the name, or the garden's number as `garden:7`.
    ///
    /// # Errors
    /// `no-such-record`, with names that come near; `records-several`, with the gardens that are called so.
    pub fn find(&self, asked: &str) -> Result<Record, Fault> {
        // A name may itself end in `@2`, so the whole text is tried as a name first.
        if let Some(garden) = self.garden(asked)? {
            return self.revision(garden, None, asked);
        }
        if let Some((name, number)) = asked.rsplit_once('@')
            && !number.is_empty()
            && number.bytes().all(|b| b.is_ascii_digit())
            && let Some(garden) = self.garden(name)?
        {
            // Too many digits for a number mean a revision that is surely not there.
            return self.revision(garden, Some(number.parse().unwrap_or(i64::MAX)), asked);
        }
        Err(self.none_such(asked)?)
    }

    /// The revision of the same garden just before this one.
    ///
    /// # Errors
    /// `one-revision` where there is none.
    pub fn before(&self, record: &Record) -> Result<Record, Fault> {
        let before: Option<i64> = self
            .connection
            .query_row(
                "SELECT max(revision) FROM surveys WHERE garden = ?1 AND revision < ?2",
                [record.garden, record.revision],
                |row| row.get(0),
            )
            .map_err(|error| self.told(error.into()))?;
        match before {
            Some(before) => self.revision(record.garden, Some(before), &record.name),
            None => Err(Fault::usage(
                "one-revision",
                format!(
                    "{} was measured once; there is nothing to compare it with.",
                    record.name
                ),
                "Name a second survey, or measure it again.",
            )),
        }
    }

    /// The latest record under this very name with this fingerprint, that is, measured from the same inputs and settings; `None` where there
    /// is none.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn unchanged(&self, name: &str, fingerprint: &str) -> Result<Option<Record>, Fault> {
        let sql = format!(
            "SELECT {COLUMNS} FROM surveys s JOIN versions v ON v.id = s.version_id \
             WHERE s.fingerprint = ?2 AND s.name = ?1 ORDER BY s.id DESC LIMIT 1"
        );
        self.connection
            .query_row(&sql, [name, fingerprint], record)
            .optional()
            .map_err(|error| self.told(error.into()))
    }

    /// The garden that is called so: by its whole name or its job number, else by the last part of its name, else by its number. `None` where
    /// none is; a fault where several are.
    fn garden(&self, asked: &str) -> Result<Option<i64>, Fault> {
        let called =
            |key: String| called(&self.connection, &key).map_err(|error| self.told(error.into()));
        let mut gardens = called(whole(asked))?;
        gardens.extend(called(job(asked))?);
        // What is asked for with several parts cannot be the last part of a name.
        if gardens.is_empty() && !asked.contains('/') {
            gardens = called(own(asked))?;
        }
        gardens.sort_unstable();
        gardens.dedup();
        match gardens.as_slice() {
            [] => {}
            [only] => return Ok(Some(*only)),
            several => return Err(self.which(asked, several)?),
        }
        Ok(asked
            .strip_prefix(BY_NUMBER)
            .and_then(|number| number.parse().ok()))
    }

    /// A revision of a garden, or the latest one; a fault where it is not there.
    fn revision(&self, garden: i64, revision: Option<i64>, asked: &str) -> Result<Record, Fault> {
        let sql = format!(
            "SELECT {COLUMNS} FROM surveys s JOIN versions v ON v.id = s.version_id WHERE s.garden = ?1 \
             AND s.revision = coalesce(?2, (SELECT max(revision) FROM surveys WHERE garden = ?1))"
        );
        let found = self
            .connection
            .query_row(&sql, params![garden, revision], record)
            .optional()
            .map_err(|error| self.told(error.into()))?;
        match found {
            Some(found) => Ok(found),
            None => Err(self.none_such(asked)?),
        }
    }

    /// The fault that says that there is no such record, and what there is instead.
    fn none_such(&self, asked: &str) -> Result<Fault, Fault> {
        let name = match asked.rsplit_once('@') {
            Some((name, _)) if !name.is_empty() => name,
            _ => asked,
        };
        let mut near = match self.garden(name) {
            Ok(Some(garden)) => self.latest(garden)?.into_iter().collect(),
            _ => Vec::new(),
        };
        if near.is_empty() {
            let wanted = Wanted {
                words: Some(name.to_owned()),
                ..Wanted::default()
            };
            near = self.list(&wanted)?.records;
        }
        let near: Vec<String> = near
            .iter()
            .take(5)
            .map(|r| match r.revisions {
                1 => r.name.clone(),
                n => format!("{} (revisions 1 to {n})", r.name),
            })
            .collect();
        let advice = if near.is_empty() {
            "`boundwalk records list` shows what there is.".to_owned()
        } else {
            format!("There is: {}.", near.join(", "))
        };
        Ok(Fault::unreadable(
            "no-such-record",
            format!("no survey “{asked}” is recorded here."),
            advice,
        )
        .in_file(self.path.display().to_string()))
    }

    /// The latest revision of a garden.
    fn latest(&self, garden: i64) -> Result<Option<Record>, Fault> {
        let sql = format!(
            "SELECT {COLUMNS} FROM surveys s JOIN versions v ON v.id = s.version_id WHERE s.garden = ?1 \
             ORDER BY s.revision DESC LIMIT 1"
        );
        self.connection
            .query_row(&sql, [garden], record)
            .optional()
            .map_err(|error| self.told(error.into()))
    }

    /// The fault that says that several gardens are called so, each with what tells it from the others.
    fn which(&self, asked: &str, gardens: &[i64]) -> Result<Fault, Fault> {
        let mut told = Vec::new();
        for garden in gardens.iter().take(TOLD) {
            let latest = self.latest(*garden)?;
            told.extend(latest.map(|record| format!("{} ({})", told_apart(&record), record.name)));
        }
        if gardens.len() > TOLD {
            told.push(format!("and {} more", gardens.len() - TOLD));
        }
        Ok(Fault::usage(
            "records-several",
            format!(
                "{} gardens are called “{asked}”: {}.",
                gardens.len(),
                told.join("; ")
            ),
            format!(
                "Name one by its number in place of the name, such as {BY_NUMBER}{}.",
                gardens.first().unwrap_or(&1)
            ),
        )
        .in_file(self.path.display().to_string()))
    }
}

/// What tells a garden from others of the same name, as in "garden:3, J-0417, 12 Example Lane, at 52.10000, -1.20000, walked 2026-05-14".
#[must_use]
pub fn told_apart(record: &Record) -> String {
    let mut parts = vec![format!("{BY_NUMBER}{}", record.garden)];
    parts.extend(record.job.clone());
    parts.extend(record.site.clone());
    parts.extend(record.customer.clone());
    if let (Some(lat), Some(lon)) = (record.lat, record.lon) {
        parts.push(format!("at {lat:.5}, {lon:.5}"));
    }
    parts.push(match &record.walked_on {
        Some(day) => format!("walked {day}"),
        None => format!(
            "recorded {}",
            record.recorded_at.get(..10).unwrap_or_default()
        ),
    });
    parts.join(", ")
}
