//! Looks into the records: what was measured here, when, and with what. Nothing is changed. A damaged row is told of and does not keep the
//! others out of reach.

use super::Records;
use super::blob;
use super::garden::DEGREES_A_METRE;
use crate::fault::Fault;
use crate::plane::Plane;
use crate::sheet::geojson::shown;
use geo::{Distance, Euclidean, MapCoords, MultiPolygon};
use geojson::Geometry;
use rusqlite::{Row, params};
use serde::Serialize;
use serde_json::Value;

/// One recorded measuring.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[non_exhaustive]
pub struct Record {
    /// Its number in the file.
    #[serde(skip)]
    pub id: i64,
    /// The number of the garden, the same for all of its revisions.
    pub garden: i64,
    /// What the survey is called.
    pub name: String,
    /// Its number within the garden, from 1.
    pub revision: i64,
    /// The number of the garden's latest revision.
    pub revisions: i64,
    /// When it was recorded: UTC, ISO 8601.
    pub recorded_at: String,
    /// The program that measured.
    pub program: String,
    /// `ok`, `check` or `withheld`.
    pub status: String,
    /// Why the status is not `ok`.
    pub reason: Option<String>,
    /// The job's number.
    pub job: Option<String>,
    /// Where it is, in words.
    pub site: Option<String>,
    /// For whom it was measured.
    pub customer: Option<String>,
    /// The day it was walked, ISO 8601.
    pub walked_on: Option<String>,
    /// Net area, square metres.
    pub net_m2: Option<f64>,
    /// Its standard error, square metres.
    pub sigma_m2: Option<f64>,
    /// The band's confidence, 0 to 1.
    pub confidence: Option<f64>,
    /// Half of the band, square metres.
    pub band_m2: Option<f64>,
    /// Lower end of the band, square metres.
    pub low_m2: Option<f64>,
    /// Upper end of the band, square metres.
    pub high_m2: Option<f64>,
    /// The kind of receiver.
    pub receiver: Option<String>,
    /// Latitude of the middle of the walk, degrees on WGS 84.
    pub lat: Option<f64>,
    /// Longitude of it.
    pub lon: Option<f64>,
}

/// Which records are wanted. Everything that is set must hold.
#[derive(Debug, Clone, Default)]
pub struct Wanted {
    /// A part of the name, job number, site or customer, in capital or small letters.
    pub words: Option<String>,
    /// A place, as latitude and longitude in degrees, and a distance in metres: the lawn must come this near.
    pub near: Option<(f64, f64, f64)>,
    /// A day (ISO 8601): it was walked then or later. Where that is not known, the day of recording counts.
    pub since: Option<String>,
    /// A day: it was walked then or earlier.
    pub until: Option<String>,
    /// Whether every revision is wanted, not only the latest.
    pub all: bool,
}

/// The records that are wanted.
#[derive(Debug, Default)]
#[non_exhaustive]
pub struct Listed {
    /// The records, in the order of name, garden and revision.
    pub records: Vec<Record>,
    /// For each damaged row, what is wrong with it.
    pub damaged: Vec<Fault>,
}

/// Rows of a table, each as a JSON object of its columns.
pub type Rows = Vec<Value>;

/// The columns that [`record`] reads, in its order; `s` stands for the table of surveys and `v` for that of versions.
pub(super) const COLUMNS: &str = "s.id, s.name, s.revision, (SELECT max(revision) FROM surveys WHERE garden = s.garden), \
                       s.recorded_at, v.program, s.status, s.reason, s.job, s.site, s.walked_on, s.net_m2, s.sigma_m2, \
                       s.confidence, s.band_m2, s.low_m2, s.high_m2, s.receiver, s.lat, s.lon, s.garden, s.customer";

/// A record from a row of [`COLUMNS`].
pub(super) fn record(row: &Row<'_>) -> rusqlite::Result<Record> {
    Ok(Record {
        id: row.get(0)?,
        name: row.get(1)?,
        revision: row.get(2)?,
        revisions: row.get(3)?,
        recorded_at: row.get(4)?,
        program: row.get(5)?,
        status: row.get(6)?,
        reason: row.get(7)?,
        job: row.get(8)?,
        site: row.get(9)?,
        walked_on: row.get(10)?,
        net_m2: row.get(11)?,
        sigma_m2: row.get(12)?,
        confidence: row.get(13)?,
        band_m2: row.get(14)?,
        low_m2: row.get(15)?,
        high_m2: row.get(16)?,
        receiver: row.get(17)?,
        lat: row.get(18)?,
        lon: row.get(19)?,
        garden: row.get(20)?,
        customer: row.get(21)?,
    })
}

/// The SQL for records as they are wanted: ?1 words, ?2 and ?3 days, and ?4 to ?7 west, east, south and north where they are to be `near`.
fn selection(all: bool, near: bool) -> String {
    let mut sql =
        format!("SELECT {COLUMNS} FROM surveys s JOIN versions v ON v.id = s.version_id WHERE 1");
    if !all {
        sql.push_str(
            " AND s.revision = (SELECT max(revision) FROM surveys WHERE garden = s.garden)",
        );
    }
    sql.push_str(
        " AND (?1 IS NULL OR instr(lower(s.name || ' ' || coalesce(s.job, '') || ' ' || coalesce(s.site, '') || ' ' || coalesce(s.customer, '')), lower(?1)))\
         AND (?2 IS NULL OR coalesce(s.walked_on, substr(s.recorded_at, 1, 10)) >= ?2)\
         AND (?3 IS NULL OR coalesce(s.walked_on, substr(s.recorded_at, 1, 10)) <= ?3)",
    );
    if near {
        sql.push_str(
            " AND s.id IN (SELECT l.survey_id FROM rtree_lawns_geom r JOIN lawns l ON l.id = r.id \
                 WHERE r.maxx >= ?4 AND r.minx <= ?5 AND r.maxy >= ?6 AND r.miny <= ?7)",
        );
    }
    sql.push_str(" ORDER BY s.name, s.garden, s.revision");
    sql
}

impl Records {
    /// The records that are wanted, by name, garden and revision.
    ///
    /// # Errors
    /// When the file cannot be read, or the place is none on Earth.
    pub fn list(&self, wanted: &Wanted) -> Result<Listed, Fault> {
        let near = match wanted.near {
            Some((lat, lon, within_m)) => Some((Plane::new(lat, lon, 0.0)?, lat, lon, within_m)),
            None => None,
        };
        // The index only finds what may be near; the distance to the lawns themselves is worked out below.
        let sides = near.as_ref().map(|(_, lat, lon, within_m)| {
            let north = within_m * DEGREES_A_METRE;
            let east = (north / lat.to_radians().cos().abs().max(1e-6)).min(360.0);
            // 180° east and 180° west are one place: there the index tells by latitude alone.
            let (west, east) = match lon - east < -180.0 || lon + east > 180.0 {
                true => (-180.0, 180.0),
                false => (lon - east, lon + east),
            };
            [west, east, lat - north, lat + north]
        });
        let sql = selection(wanted.all, sides.is_some());
        let read = || -> rusqlite::Result<Listed> {
            let mut statement = self.connection.prepare(&sql)?;
            let (words, since, until) = (&wanted.words, &wanted.since, &wanted.until);
            let mut rows = match sides {
                Some([west, east, south, north]) => {
                    statement.query(params![words, since, until, west, east, south, north])?
                }
                None => statement.query(params![words, since, until])?,
            };
            let mut found = Listed::default();
            while let Some(row) = rows.next()? {
                match record(row) {
                    Ok(record) => found.records.push(record),
                    Err(error) => found.damaged.push(damaged_row(row, &error)),
                }
            }
            Ok(found)
        };
        let mut found = read().map_err(|error| self.told(error.into()))?;
        if let Some((plane, _, _, within_m)) = near {
            let mut close = Vec::new();
            for record in found.records {
                let lawn = self.lawn(record.id, &plane)?;
                let from_here: f64 = Euclidean.distance(&geo::Point::new(0.0, 0.0), &lawn);
                if !lawn.0.is_empty() && from_here <= within_m {
                    close.push(record);
                }
            }
            found.records = close;
        }
        Ok(found)
    }

    /// The result document as it was recorded, as one line of text and read as JSON; the inner fault where it is damaged.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn document(&self, of: &Record) -> Result<Result<(String, Value), Fault>, Fault> {
        use rusqlite::types::Value as Column;
        let document: Column = self
            .connection
            .query_row(
                "SELECT document FROM surveys WHERE id = ?1",
                [of.id],
                |row| row.get(0),
            )
            .map_err(|error| self.told(error.into()))?;
        let whole = match document {
            Column::Text(text) => serde_json::from_str(&text)
                .ok()
                .map(|parsed| (text, parsed)),
            _ => None,
        };
        Ok(whole.ok_or_else(|| self.damaged(of)))
    }

    /// The fault that says that a record's document is damaged.
    pub fn damaged(&self, of: &Record) -> Fault {
        Fault::unreadable(
            "records-damaged",
            format!(
                "the document of {}, revision {}, cannot be read.",
                of.name, of.revision
            ),
            "Measure it again from its logs.",
        )
        .in_file(self.path.display().to_string())
    }

    /// The rows of a table that belong to the record with this number.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn rows(&self, table: Table, id: i64) -> Result<Rows, Fault> {
        let (name, columns) = table.columns();
        let read = || -> rusqlite::Result<Rows> {
            let mut statement = self.connection.prepare(&format!(
                "SELECT {} FROM {name} WHERE survey_id = ?1 ORDER BY id",
                columns.join(", ")
            ))?;
            let rows = statement.query_map([id], |row| {
                let mut object = serde_json::Map::new();
                for (at, column) in columns.iter().enumerate() {
                    let value = match row.get::<_, rusqlite::types::Value>(at)? {
                        rusqlite::types::Value::Null | rusqlite::types::Value::Blob(_) => {
                            Value::Null
                        }
                        rusqlite::types::Value::Integer(n) if *column == "doubt" => {
                            Value::Bool(n != 0)
                        }
                        rusqlite::types::Value::Integer(n) => n.into(),
                        rusqlite::types::Value::Real(x) => x.into(),
                        rusqlite::types::Value::Text(text) => text.into(),
                    };
                    object.insert((*column).to_owned(), value);
                }
                Ok(Value::Object(object))
            })?;
            rows.collect()
        };
        read().map_err(|error| self.told(error.into()))
    }

    /// The net lawns of a record as a GeoJSON geometry in degrees; `None` where there is none.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn outline(&self, id: i64) -> Result<Option<Value>, Fault> {
        let mut polygons = Vec::new();
        for blob in self.geometries(id)? {
            polygons.extend(blob::decode_polygons(&blob).unwrap_or_default());
        }
        Ok(shown(polygons).and_then(|shape| serde_json::to_value(Geometry::new(shape)).ok()))
    }

    /// The net lawns of a record on a plane, metres; empty where there is none.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn lawn(&self, id: i64, plane: &Plane) -> Result<MultiPolygon<f64>, Fault> {
        let mut lawn = Vec::new();
        for blob in self.geometries(id)? {
            let polygons = blob::decode_polygons(&blob).unwrap_or_default();
            lawn.extend(
                polygons
                    .iter()
                    .map(|polygon| polygon.map_coords(|at| plane.forward(at.y, at.x))),
            );
        }
        Ok(MultiPolygon(lawn))
    }

    /// The net lawns of a record as they are stored.
    fn geometries(&self, id: i64) -> Result<Vec<Vec<u8>>, Fault> {
        let read = || -> rusqlite::Result<Vec<Vec<u8>>> {
            let mut statement = self.connection.prepare_cached(
                "SELECT geom FROM lawns WHERE survey_id = ?1 AND geom NOT NULL ORDER BY id",
            )?;
            statement.query_map([id], |row| row.get(0))?.collect()
        };
        read().map_err(|error| self.told(error.into()))
    }
}

/// The fault that says that a row of the surveys is damaged.
pub(super) fn damaged_row(row: &Row<'_>, error: &rusqlite::Error) -> Fault {
    let name = row.get::<_, String>(1).ok();
    let number = row.get::<_, i64>(0).unwrap_or_default();
    Fault::unreadable(
        "records-damaged",
        format!(
            "the record of {} (row {number} of the table surveys) is damaged: {error}.",
            name.as_deref()
                .unwrap_or("a survey whose name cannot be read")
        ),
        "Measure it again from its logs.",
    )
}

/// Tables with rows for each record.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Table {
    /// Lines of the order.
    Orders,
    /// Files read.
    LogFiles,
    /// The settings of the survey.
    Settings,
    /// What was told about the survey.
    Warnings,
    /// Net lawns.
    Lawns,
    /// What was taken off.
    Deductions,
}

impl Table {
    /// The table's name in the file, and the columns that are shown.
    fn columns(self) -> (&'static str, &'static [&'static str]) {
        match self {
            Table::Orders => (
                "orders",
                &["item", "quantity", "unit", "net", "allowance", "basis"],
            ),
            Table::LogFiles => (
                "log_files",
                &[
                    "name",
                    "sha256",
                    "kind",
                    "lines",
                    "fixes",
                    "damaged",
                    "first_time",
                    "last_time",
                ],
            ),
            Table::Settings => ("settings", &["name", "value", "source"]),
            Table::Warnings => ("warnings", &["code", "doubt", "message"]),
            Table::Lawns => ("lawns", &["label", "net_m2", "sigma_m2"]),
            Table::Deductions => ("deductions", &["label", "kind", "area_m2", "deducted_m2"]),
        }
    }
}

/// The text under a key, or an empty one where there is none.
pub(super) fn text<'v>(row: &'v Value, column: &str) -> &'v str {
    row.get(column).and_then(Value::as_str).unwrap_or_default()
}

/// The number under a key, or 0 where there is none.
pub(super) fn number(row: &Value, column: &str) -> f64 {
    row.get(column).and_then(Value::as_f64).unwrap_or(0.0)
}
