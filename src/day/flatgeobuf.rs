//! A day's lawns in one FlatGeobuf: a map with an index of places, which readers need not take whole
//! (<https://flatgeobuf.org>, version 3 of the form).

use super::line::Line;
use crate::fault::Fault;
use flatgeobuf::{ColumnType, FgbCrs, FgbWriter, FgbWriterOptions, GeometryType};
use geojson::Geometry;
use geozero::{ColumnValue, PropertyProcessor};
use serde_json::Value;

/// WGS 84, longitude and latitude.
const EPSG: i32 = 4326;

/// The lawns so far. The form orders them by place.
pub struct Flat {
    writer: FgbWriter<'static>,
    lawns: usize,
}

const COLUMNS: [(&str, ColumnType); 14] = [
    ("survey", ColumnType::String),
    ("status", ColumnType::String),
    ("net_m2", ColumnType::Double),
    ("band_m2", ColumnType::Double),
    ("low_m2", ColumnType::Double),
    ("high_m2", ColumnType::Double),
    ("pieces", ColumnType::Long),
    ("laid", ColumnType::Long),
    ("pallets", ColumnType::Long),
    ("job", ColumnType::String),
    ("site", ColumnType::String),
    ("date", ColumnType::String),
    ("reason", ColumnType::String),
    ("checks", ColumnType::Long),
];

impl Flat {
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
        for (name, column) in COLUMNS {
            writer.add_column(name, column, |_, _| {});
        }
        Ok(Flat { writer, lawns: 0 })
    }

    /// Adds a survey's net lawn, as GeoJSON has it. One without a lawn is not on a map.
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
        let area = line.area.as_ref();
        let number = |number: Option<u64>| number.and_then(|n| i64::try_from(n).ok());
        let values: [Option<ColumnValue<'_>>; 14] = [
            Some(ColumnValue::String(&line.name)),
            Some(ColumnValue::String(line.status.word())),
            area.map(|a| ColumnValue::Double(a.net_m2)),
            area.map(|a| ColumnValue::Double(a.band_m2)),
            area.map(|a| ColumnValue::Double(a.low_m2)),
            area.map(|a| ColumnValue::Double(a.high_m2)),
            number(line.pieces).map(ColumnValue::Long),
            number(line.laid_pieces).map(ColumnValue::Long),
            number(line.pallets).map(ColumnValue::Long),
            line.job.as_deref().map(ColumnValue::String),
            line.site.as_deref().map(ColumnValue::String),
            line.date.as_deref().map(ColumnValue::String),
            line.reason.as_deref().map(ColumnValue::String),
            line.checks.map(|n| ColumnValue::Long(i64::from(n))),
        ];
        let mut told = Ok(false);
        self.writer
            .add_feature_geom(lawn, |feature| {
                for (at, value) in values.iter().enumerate() {
                    if let Some(value) = value {
                        told = feature.property(at, COLUMNS[at].0, value);
                    }
                }
            })
            .map_err(unwritten)?;
        self.lawns += 1;
        told.map(|_| ()).map_err(unwritten)
    }

    /// The whole map.
    ///
    /// # Errors
    /// The disk takes no more.
    pub fn end(self) -> Result<Vec<u8>, Fault> {
        // An index of nothing is no index, and readers refuse it.
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
