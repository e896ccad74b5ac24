//! Looking into the records: what was measured here, when, and with what.

use super::Records;
use super::blob;
use crate::fault::Fault;
use crate::plane::Plane;
use crate::sheet::geojson::shown;
use geo::{Distance, Euclidean, MapCoords, MultiPolygon};
use geojson::Geometry;
use rusqlite::{OptionalExtension, Row, params};
use serde::Serialize;
use serde_json::Value;

/// One recorded measuring.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Record {
    #[serde(skip)]
    pub id: i64,
    pub name: String,
    pub revision: i64,
    /// Of how many.
    pub revisions: i64,
    pub recorded_at: String,
    /// The program that measured.
    pub program: String,
    pub status: String,
    pub reason: Option<String>,
    pub job: Option<String>,
    pub site: Option<String>,
    pub walked_on: Option<String>,
    pub net_m2: Option<f64>,
    pub sigma_m2: Option<f64>,
    pub confidence: Option<f64>,
    pub band_m2: Option<f64>,
    pub low_m2: Option<f64>,
    pub high_m2: Option<f64>,
    pub receiver: Option<String>,
    pub lat: Option<f64>,
    pub lon: Option<f64>,
}

/// Which records are wanted. Everything that is set must hold.
#[derive(Debug, Clone, Default)]
pub struct Wanted {
    /// Part of the name, job number or site, any case.
    pub words: Option<String>,
    /// Latitude and longitude in degrees, and metres: the lawn comes this near.
    pub near: Option<(f64, f64, f64)>,
    /// Walked on this day or later (ISO 8601); where the log has no date, recorded.
    pub since: Option<String>,
    /// Walked on this day or earlier.
    pub until: Option<String>,
    /// Every revision, not only the latest.
    pub all: bool,
}

/// A table's rows, each a name-value object.
pub type Rows = Vec<Value>;

const COLUMNS: &str = "s.id, s.name, s.revision, (SELECT max(revision) FROM surveys WHERE name = s.name), s.recorded_at, \
                       v.program, s.status, s.reason, s.job, s.site, s.walked_on, s.net_m2, s.sigma_m2, s.confidence, \
                       s.band_m2, s.low_m2, s.high_m2, s.receiver, s.lat, s.lon";

fn record(row: &Row<'_>) -> rusqlite::Result<Record> {
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
    })
}

/// Degrees of latitude in a metre, rounded up: the Earth's smallest radius of curvature is 6 335 km.
const DEGREES_A_METRE: f64 = 1.0 / 110_500.0;

impl Records {
    /// The records that are wanted, by name and revision.
    ///
    /// # Errors
    /// When the file cannot be read, or the place is none on Earth.
    pub fn list(&self, wanted: &Wanted) -> Result<Vec<Record>, Fault> {
        let near = match wanted.near {
            Some((lat, lon, within_m)) => Some((Plane::new(lat, lon, 0.0)?, lat, lon, within_m)),
            None => None,
        };
        let mut sql = format!(
            "SELECT {COLUMNS} FROM surveys s JOIN versions v ON v.id = s.version_id WHERE 1"
        );
        if !wanted.all {
            sql.push_str(
                " AND s.revision = (SELECT max(revision) FROM surveys WHERE name = s.name)",
            );
        }
        sql.push_str(
            " AND (?1 IS NULL OR instr(lower(s.name || ' ' || coalesce(s.job, '') || ' ' || coalesce(s.site, '')), lower(?1)))\
             AND (?2 IS NULL OR coalesce(s.walked_on, substr(s.recorded_at, 1, 10)) >= ?2)\
             AND (?3 IS NULL OR coalesce(s.walked_on, substr(s.recorded_at, 1, 10)) <= ?3)",
        );
        // The index gives what may be near; the lawns themselves decide.
        let sides = near.as_ref().map(|(_, lat, lon, within_m)| {
            let north = within_m * DEGREES_A_METRE;
            let east = (north / lat.to_radians().cos().abs().max(1e-6)).min(360.0);
            [lon - east, lon + east, lat - north, lat + north]
        });
        if sides.is_some() {
            sql.push_str(
                " AND s.id IN (SELECT l.survey_id FROM rtree_lawns_geom r JOIN lawns l ON l.id = r.id \
                 WHERE r.maxx >= ?4 AND r.minx <= ?5 AND r.maxy >= ?6 AND r.miny <= ?7)",
            );
        }
        sql.push_str(" ORDER BY s.name, s.revision");
        let read = || -> rusqlite::Result<Vec<Record>> {
            let mut statement = self.connection.prepare(&sql)?;
            let (words, since, until) = (&wanted.words, &wanted.since, &wanted.until);
            let rows = match sides {
                Some([west, east, south, north]) => statement.query_map(
                    params![words, since, until, west, east, south, north],
                    record,
                )?,
                None => statement.query_map(params![words, since, until], record)?,
            };
            rows.collect()
        };
        let mut found = read().map_err(|error| self.told(error.into()))?;
        if let Some((plane, _, _, within_m)) = near {
            let mut close = Vec::new();
            for record in found {
                let lawn = self.lawn(record.id, &plane)?;
                let from_here: f64 = Euclidean.distance(&geo::Point::new(0.0, 0.0), &lawn);
                if !lawn.0.is_empty() && from_here <= within_m {
                    close.push(record);
                }
            }
            found = close;
        }
        Ok(found)
    }

    /// One record: `NAME` for the latest revision, `NAME@2` for the second. A job number stands for its survey where only
    /// one has it.
    ///
    /// # Errors
    /// `no-such-record`, with names that come near.
    pub fn find(&self, asked: &str) -> Result<Record, Fault> {
        let find = |name: &str, revision: Option<i64>| -> Result<Option<Record>, Fault> {
            let sql = format!(
                "SELECT {COLUMNS} FROM surveys s JOIN versions v ON v.id = s.version_id WHERE s.name = ?1 \
                 AND s.revision = coalesce(?2, (SELECT max(revision) FROM surveys WHERE name = ?1))"
            );
            self.connection
                .query_row(&sql, params![name, revision], record)
                .optional()
                .map_err(|error| self.told(error.into()))
        };
        let (name, revision) = match asked.rsplit_once('@') {
            Some((name, number))
                if !number.is_empty() && number.bytes().all(|b| b.is_ascii_digit()) =>
            {
                (name, number.parse().ok())
            }
            _ => (asked, None),
        };
        // A name may itself end like that.
        if let Some(found) = find(asked, None)? {
            return Ok(found);
        }
        if let Some(found) = find(name, revision)? {
            return Ok(found);
        }
        let by_job = self.list(&Wanted {
            words: Some(name.to_owned()),
            ..Wanted::default()
        })?;
        let same_job: Vec<&Record> = by_job
            .iter()
            .filter(|r| r.job.as_deref() == Some(name))
            .collect();
        if let [only] = same_job.as_slice()
            && let Some(found) = find(&only.name, revision)?
        {
            return Ok(found);
        }
        let close: Vec<String> = by_job
            .iter()
            .take(5)
            .map(|r| match r.revisions {
                1 => r.name.clone(),
                n => format!("{} (revisions 1 to {n})", r.name),
            })
            .collect();
        let advice = if close.is_empty() {
            "`boundwalk records list` shows what there is.".to_owned()
        } else {
            format!("There is: {}.", close.join(", "))
        };
        Err(Fault::unreadable(
            "no-such-record",
            format!("no survey “{asked}” is recorded here."),
            advice,
        )
        .in_file(self.path.display().to_string()))
    }

    /// The result document as it was recorded, one line.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn document(&self, id: i64) -> Result<String, Fault> {
        self.connection
            .query_row("SELECT document FROM surveys WHERE id = ?1", [id], |row| {
                row.get(0)
            })
            .map_err(|error| self.told(error.into()))
    }

    /// Rows that belong to a record, of one of the tables named here.
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

    /// The net lawns of a record in degrees, as GeoJSON; `None` where there is none.
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

    /// The net lawns of a record on a plane, metres.
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

/// Tables with rows for each record.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Table {
    Orders,
    LogFiles,
    Settings,
    Warnings,
    Lawns,
    Deductions,
}

impl Table {
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
