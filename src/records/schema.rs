//! The tables of a file of records, and how an older file is brought up to date. The tables are made by numbered steps; a file says which
//! steps it has been through, and the missing ones are applied to it in one transaction.

mod gardens;
mod styles;

use super::tables::{LAYERS, Trouble};
use crate::fault::Fault;
use rusqlite::{Connection, OptionalExtension, Transaction, TransactionBehavior, params};

/// The number by which SQLite files say what they are: "GPKG" (Requirement 2).
const APPLICATION_ID: i64 = 0x4750_4B47;
/// Version 1.3.0 of the standard (Requirement 2: major, two digits minor, two digits bug-fix): the newest that readers of
/// 2022 open without a warning, such as GDAL 3.6.
const USER_VERSION: i64 = 10_300;
/// The version of the tables that this program writes.
pub(crate) const NEWEST: i64 = STEPS.len() as i64;

/// What brings a file from one version to the next. A step is never changed once it was released; a new version is a new step.
const STEPS: [&[Step]; 5] = [
    &[
        Step::Sql(include_str!("schema/1-geopackage.sql")),
        Step::Sql(include_str!("schema/1-records.sql")),
        Step::EachLayer(include_str!("schema/rtree.sql")),
    ],
    &[Step::Sql(include_str!("schema/2-metadata.sql"))],
    &[
        Step::Sql(include_str!("schema/3-gardens.sql")),
        Step::Call(gardens::tell_apart),
    ],
    // Adds the customer's name.
    &[Step::Sql("ALTER TABLE surveys ADD COLUMN customer TEXT")],
    // Adds the view that a map shows first, and how the layers are drawn.
    &[
        Step::EachLayer(include_str!("schema/5-rtree.sql")),
        Step::Sql(include_str!("schema/5-latest.sql")),
        Step::Call(styles::write),
    ],
];

/// A part of a step.
enum Step {
    Sql(&'static str),
    /// SQL that is run for each layer, with the layer's name in place of `<t>`.
    EachLayer(&'static str),
    Call(fn(&Transaction<'_>) -> Result<(), Trouble>),
}

/// Makes the tables, or adds what an older version lacks up to version `to`, all in one transaction.
pub(crate) fn bring_up(connection: &mut Connection, to: i64) -> Result<(), Trouble> {
    if check(connection)? == to {
        return Ok(());
    }
    // A table that others refer to can only be made anew while SQLite does not check such references.
    connection.pragma_update(None, "foreign_keys", false)?;
    let brought = apply(connection, to);
    connection.pragma_update(None, "foreign_keys", true)?;
    brought
}

/// Applies the missing steps up to version `to`.
fn apply(connection: &mut Connection, to: i64) -> Result<(), Trouble> {
    let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    // Another program may have done it while this one waited.
    let from = version(&transaction)?;
    for (step, number) in STEPS.iter().zip(1..) {
        if number <= from || number > to {
            continue;
        }
        for part in *step {
            match part {
                Step::Sql(sql) => transaction.execute_batch(sql)?,
                Step::EachLayer(sql) => {
                    for layer in LAYERS {
                        transaction.execute_batch(&sql.replace("<t>", layer))?;
                    }
                }
                Step::Call(function) => function(&transaction)?,
            }
        }
        transaction.execute(
            "INSERT INTO record_schema (version, applied_at, program) VALUES (?1, strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), ?2)",
            params![number, program()],
        )?;
    }
    if from == 0 {
        transaction.pragma_update(None, "application_id", APPLICATION_ID)?;
    }
    transaction.pragma_update(None, "user_version", USER_VERSION)?;
    transaction.commit()?;
    Ok(())
}

/// The version of the tables, 0 for an empty file; a fault where the file is something else or of a newer version.
pub(crate) fn check(connection: &mut Connection) -> Result<i64, Trouble> {
    let transaction = connection.transaction()?;
    version(&transaction)
}

/// As [`check`], within a transaction.
fn version(transaction: &Transaction<'_>) -> Result<i64, Trouble> {
    let tables: i64 =
        transaction.query_row("SELECT count(*) FROM sqlite_master", [], |row| row.get(0))?;
    if tables == 0 {
        return Ok(0);
    }
    let ours: Option<i64> = transaction
        .query_row(
            "SELECT 1 FROM sqlite_master WHERE type = 'table' AND name = 'record_schema'",
            [],
            |row| row.get(0),
        )
        .optional()?;
    let application: i64 =
        transaction.pragma_query_value(None, "application_id", |row| row.get(0))?;
    if ours.is_none() || application != APPLICATION_ID {
        return Err(Trouble::Fault(Fault::usage(
            "not-records",
            "this is a database of another kind, not a file of records.",
            "Name a file of records, or a new file; a GIS can show several files together.",
        )));
    }
    let version: i64 =
        transaction.query_row("SELECT max(version) FROM record_schema", [], |row| {
            row.get(0)
        })?;
    if version > NEWEST {
        return Err(Trouble::Fault(Fault::usage(
            "records-newer",
            format!(
                "these records are of version {version}, written by a newer boundwalk; this one knows versions up to {NEWEST}."
            ),
            "Use the newer boundwalk.",
        )));
    }
    Ok(version)
}

/// Name and version of this program.
pub(crate) fn program() -> String {
    format!("boundwalk {}", env!("CARGO_PKG_VERSION"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::records::Records;

    /// A file of the first version, with a survey in it, is brought up to date and loses nothing.
    #[test]
    fn an_older_file_is_brought_up_to_date() {
        let temp = tempfile::tempdir().unwrap();
        let path = temp.path().join("old.gpkg");
        let mut old = Connection::open(&path).unwrap();
        bring_up(&mut old, 1).unwrap_or_else(|trouble| panic!("{trouble:?}"));
        old.execute_batch(
            "INSERT INTO versions (program, result_schema) VALUES ('boundwalk 0.0.9', 'boundwalk/result/1');
             INSERT INTO surveys (name, revision, recorded_at, version_id, status, document)
             VALUES ('yard/J-1', 1, '2025-05-14T09:00:00.000Z', 1, 'ok', '{}');",
        )
        .unwrap();
        let tables = |db: &Connection| -> i64 {
            db.query_row(
                "SELECT count(*) FROM sqlite_master WHERE name = 'gpkg_metadata'",
                [],
                |row| row.get(0),
            )
            .unwrap()
        };
        assert_eq!(tables(&old), 0);
        drop(old);
        let records = Records::open(&path).unwrap();
        assert_eq!(tables(&records.connection), 1);
        let kept = records.find("yard/J-1").unwrap();
        assert_eq!(kept.program, "boundwalk 0.0.9");
        let steps: Vec<i64> = records
            .connection
            .prepare("SELECT version FROM record_schema ORDER BY id")
            .unwrap()
            .query_map([], |row| row.get(0))
            .unwrap()
            .map(Result::unwrap)
            .collect();
        assert_eq!(steps, [1, 2, 3, 4, 5]);
        // Opened again it is left alone.
        drop(records);
        let before = std::fs::read(&path).unwrap();
        drop(Records::open(&path).unwrap());
        assert_eq!(std::fs::read(&path).unwrap(), before);
    }

    /// Two gardens 110 km apart under one name, and one job under two names, as the second version kept them.
    #[test]
    fn older_revisions_are_told_apart_by_their_places_and_none_is_lost() {
        use crate::records::blob::encode_polygons;
        use geo::polygon;
        let temp = tempfile::tempdir().unwrap();
        let path = temp.path().join("old.gpkg");
        let mut old = Connection::open(&path).unwrap();
        crate::records::functions(&old).unwrap();
        bring_up(&mut old, 2).unwrap_or_else(|trouble| panic!("{trouble:?}"));
        old.execute_batch(
            "INSERT INTO versions (program, result_schema) VALUES ('boundwalk 0.0.9', 'boundwalk/result/1')",
        )
        .unwrap();
        let rows = [
            ("monday/0930.nmea", 1, None, Some(45.0)),
            ("monday/0930.nmea", 2, None, Some(46.0)),
            ("monday/0930.nmea", 3, None, Some(45.0)),
            ("monday/front", 1, Some("J-1"), Some(47.0)),
            ("J-1", 1, Some("J-1"), Some(47.0)),
            ("monday/gone.nmea", 1, None, None),
        ];
        for (name, revision, job, lat) in rows {
            let document = format!("{{\"of\": \"{name} {revision}\"}}");
            old.execute(
                "INSERT INTO surveys (name, revision, recorded_at, version_id, status, job, lat, lon, document) \
                 VALUES (?1, ?2, '2025-05-14T09:00:00.000Z', 1, 'ok', ?3, ?4, -30.0, ?5)",
                params![name, revision, job, lat, document],
            )
            .unwrap();
            let survey = old.last_insert_rowid();
            let Some(lat) = lat else { continue };
            let lawn =
                polygon![(x: -30.0, y: lat), (x: -29.9998, y: lat), (x: -29.9998, y: lat + 0.0001)];
            old.execute(
                "INSERT INTO lawns (geom, survey_id, survey, revision) VALUES (?1, ?2, ?3, ?4)",
                params![
                    encode_polygons(&[lawn]).unwrap().bytes,
                    survey,
                    name,
                    revision
                ],
            )
            .unwrap();
        }
        drop(old);
        let records = Records::open(&path).unwrap();
        let db = &records.connection;
        type Row = (String, i64, i64, String);
        let all = |sql: &str| -> Vec<Row> {
            let mut statement = db.prepare(sql).unwrap();
            let rows = statement
                .query_map([], |row| {
                    Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?))
                })
                .unwrap();
            rows.map(Result::unwrap).collect()
        };
        let expected = [
            ("monday/0930.nmea", 1, 1, "monday/0930.nmea 1"),
            ("monday/0930.nmea", 2, 1, "monday/0930.nmea 2"),
            ("monday/0930.nmea", 1, 2, "monday/0930.nmea 3"),
            ("monday/front", 3, 1, "monday/front 1"),
            ("J-1", 3, 2, "J-1 1"),
            ("monday/gone.nmea", 4, 1, "monday/gone.nmea 1"),
        ]
        .map(|(name, garden, revision, of)| (name.to_owned(), garden, revision, of.to_owned()));
        assert_eq!(
            all(
                "SELECT name, garden, revision, json_extract(document, '$.of') FROM surveys ORDER BY id"
            ),
            expected
        );
        // The layers follow, and what else was in the rows is as it was.
        assert!(
            all("SELECT l.survey, l.garden, l.revision, s.status FROM lawns l JOIN surveys s ON s.id = l.survey_id \
                 WHERE s.recorded_at = '2025-05-14T09:00:00.000Z' ORDER BY l.id")
            .iter()
            .zip(&expected)
            .all(|(lawn, survey)| (lawn.1, lawn.2) == (survey.1, survey.2) && lawn.3 == "ok")
        );
        assert!(
            db.prepare("PRAGMA foreign_key_check")
                .unwrap()
                .query([])
                .unwrap()
                .next()
                .unwrap()
                .is_none()
        );
        let on: bool = db
            .pragma_query_value(None, "foreign_keys", |row| row.get(0))
            .unwrap();
        assert!(on);
    }

    /// Two programs meeting at a new file make its tables once.
    #[test]
    fn a_new_file_is_made_once_whoever_comes() {
        let temp = tempfile::tempdir().unwrap();
        let path = temp.path().join("new.gpkg");
        std::thread::scope(|scope| {
            for _ in 0..4 {
                scope.spawn(|| Records::open(&path).unwrap_or_else(|fault| panic!("{fault}")));
            }
        });
        let records = Records::open(&path).unwrap();
        let steps: i64 = records
            .connection
            .query_row("SELECT count(*) FROM record_schema", [], |row| row.get(0))
            .unwrap();
        assert_eq!(steps, NEWEST);
    }
}
