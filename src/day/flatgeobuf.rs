//! A day's lawns as one FlatGeobuf file: a map with an index of places, so that readers can take what lies in one area without reading
//! all of it (<https://flatgeobuf.org>, version 3 of the form).

use super::line::{Figures, Line};
use crate::fault::Fault;
use flatgeobuf::{ColumnType, FgbCrs, FgbWriter, FgbWriterOptions, GeometryType};
use geojson::Geometry;
use geozero::{ColumnValue, PropertyProcessor};
use serde_json::Value;

/// The number of WGS 84 with longitude and latitude.
const EPSG: i32 = 4326;

/// The map being put together. The lawns wait in a temporary file until the end, since the form has them in the order of place.
pub struct Flat {
    writer: FgbWriter<'static>,
    lawns: usize,
}

/// Takes a column's value from a survey's line; `None` where it has none.
type Told = for<'a> fn(&'a Line) -> Option<ColumnValue<'a>>;

/// The columns: their names (at most ten letters, as in `day.geojson`), their types and where their values come from.
const COLUMNS: [(&str, ColumnType, Told); 14] = [
    ("survey", ColumnType::String, |l| text(Some(&l.name))),
    ("status", ColumnType::String, |l| {
        text(Some(l.status.word()))
    }),
    ("net_m2", ColumnType::Double, |l| area_m2(l, |a| a.net_m2)),
    ("band_m2", ColumnType::Double, |l| area_m2(l, |a| a.band_m2)),
    ("low_m2", ColumnType::Double, |l| area_m2(l, |a| a.low_m2)),
    ("high_m2", ColumnType::Double, |l| area_m2(l, |a| a.high_m2)),
    ("pieces", ColumnType::Long, |l| count(l.pieces)),
    ("laid", ColumnType::Long, |l| count(l.laid_pieces)),
    ("pallets", ColumnType::Long, |l| count(l.pallets)),
    ("job", ColumnType::String, |l| text(l.job.as_deref())),
    ("site", ColumnType::String, |l| text(l.site.as_deref())),
    ("date", ColumnType::String, |l| text(l.date.as_deref())),
    ("reason", ColumnType::String, |l| text(l.reason.as_deref())),
    ("checks", ColumnType::Long, |l| {
        count(l.checks.map(u64::from))
    }),
];

fn text(text: Option<&str>) -> Option<ColumnValue<'_>> {
    text.map(ColumnValue::String)
}

fn area_m2(line: &Line, of: fn(&Figures) -> f64) -> Option<ColumnValue<'_>> {
    line.area.as_ref().map(|area| ColumnValue::Double(of(area)))
}

fn count(count: Option<u64>) -> Option<ColumnValue<'static>> {
    count
        .and_then(|n| i64::try_from(n).ok())
        .map(ColumnValue::Long)
}

impl Flat {
    /// Begins a map.
    ///
    /// # Errors
    /// No temporary file can be made.
    pub fn begin() -> Result<Flat, Fault> {
        Flat::new(true)
    }

    fn new(write_index: bool) -> Result<Flat, Fault> {
        let options = FgbWriterOptions {
            crs: FgbCrs {
                code: EPSG,
                ..FgbCrs::default()
            },
            write_index,
            ..FgbWriterOptions::default()
        };
        let kind = GeometryType::MultiPolygon;
        let mut writer =
            FgbWriter::create_with_options("lawns", kind, options).map_err(unwritten)?;
        for (name, column, _) in COLUMNS {
            writer.add_column(name, column, |_, _| {});
        }
        Ok(Flat { writer, lawns: 0 })
    }

    /// Adds a survey's net lawn, given as a GeoJSON geometry. A survey without a lawn is left out of the map.
    ///
    /// # Errors
    /// The disk takes no more.
    pub fn add(&mut self, line: &Line, geometry: Option<&Value>) -> Result<(), Fault> {
        let lawn = geometry
            .and_then(|lawn| serde_json::from_value::<Geometry>(lawn.clone()).ok())
            .and_then(|lawn| geo::Geometry::<f64>::try_from(lawn).ok());
        let Some(lawn) = lawn else {
            return Ok(());
        };
        let mut told = Ok(false);
        self.writer
            .add_feature_geom(lawn, |feature| {
                for (at, (name, _, value)) in COLUMNS.iter().enumerate() {
                    if let Some(value) = value(line) {
                        told = feature.property(at, name, &value);
                    }
                }
            })
            .map_err(unwritten)?;
        self.lawns += 1;
        told.map(|_| ()).map_err(unwritten)
    }

    /// The finished map's bytes.
    ///
    /// # Errors
    /// The disk takes no more.
    pub fn end(self) -> Result<Vec<u8>, Fault> {
        // Readers refuse an index of nothing, so a map without lawns has none.
        let whole = if self.lawns == 0 {
            Flat::new(false)?
        } else {
            self
        };
        let mut bytes = Vec::new();
        whole.writer.write(&mut bytes).map_err(unwritten)?;
        Ok(bytes)
    }
}

fn unwritten(error: impl std::fmt::Display) -> Fault {
    Fault::unreadable(
        "unwritable",
        format!("the map could not be put together ({error})."),
        "Check that the disk for temporary files is not full.",
    )
}
