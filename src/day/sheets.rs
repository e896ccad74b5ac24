//! The day's own sheets: a table, a map, the result documents and a page that leads to every survey. They are written a row at a time as
//! surveys are done, so that memory does not grow with their number.

use super::Summary;
use super::keep::{Folder, Growing};
use super::line::Line;
use super::name;
use super::page;
use crate::fault::Fault;
use crate::sheet::csv::{MARK, places, words};
use crate::units::Units;
use crate::visible::in_json;
use crate::write::stage::Stage;
use serde_json::{Value, json};

/// `day.csv`'s columns.
const COLUMNS: [&str; 15] = [
    "survey",
    "status",
    "net_m2",
    "band_m2",
    "band_percent",
    "low_m2",
    "high_m2",
    "pieces",
    "job",
    "site",
    "date",
    "reason",
    "checks",
    "laid_pieces",
    "pallets",
];

/// The first row of the table.
pub fn csv_head() -> Vec<u8> {
    row(&COLUMNS.map(str::to_owned))
}

/// A survey's row of the table (RFC 4180). Areas are metric with six decimals, percentages have four. Cells of what is not known are empty.
#[must_use]
pub fn csv_row(line: &Line) -> Vec<u8> {
    let [mut net, mut band, mut percent, mut low, mut high] = [const { String::new() }; 5];
    if let Some(area) = &line.area {
        net = places(area.net_m2);
        band = places(area.band_m2);
        percent = format!("{:.4}", area.percent());
        low = places(area.low_m2);
        high = places(area.high_m2);
    }
    let text = |text: &Option<String>| words(text.as_deref().unwrap_or_default());
    row(&[
        words(&line.name),
        line.status.word().to_owned(),
        net,
        band,
        percent,
        low,
        high,
        line.pieces.map(|n| n.to_string()).unwrap_or_default(),
        text(&line.job),
        text(&line.site),
        text(&line.date),
        text(&line.reason),
        line.checks.map(|n| n.to_string()).unwrap_or_default(),
        line.laid_pieces.map(|n| n.to_string()).unwrap_or_default(),
        line.pallets.map(|n| n.to_string()).unwrap_or_default(),
    ])
}

fn row(cells: &[String]) -> Vec<u8> {
    let mut writer = csv::WriterBuilder::new()
        .terminator(csv::Terminator::CRLF)
        .from_writer(Vec::new());
    // Writing to memory does not fail.
    let _ = writer.write_record(cells);
    writer.into_inner().unwrap_or_default()
}

/// How the map begins. The features follow one by one, and then [`MAP_END`].
pub const MAP_HEAD: &str = "{\"type\":\"FeatureCollection\",\"features\":[\n";
/// How the map ends.
pub const MAP_END: &str = "\n]}\n";

/// A survey as a feature on one line: the net lawn with the table's columns. A survey without an area is there without a geometry
/// (RFC 7946, 3.2: an unlocated feature).
#[must_use]
pub fn feature(line: &Line, geometry: Option<&Value>) -> String {
    let feature = json!({
        "type": "Feature",
        "geometry": geometry,
        "properties": {
            "role": "lawn",
            "survey": line.name,
            "status": line.status.word(),
            "net_m2": line.area.map(|a| a.net_m2),
            "band_m2": line.area.map(|a| a.band_m2),
            "low_m2": line.area.map(|a| a.low_m2),
            "high_m2": line.area.map(|a| a.high_m2),
            "pieces": line.pieces,
            // No name of a column has more than ten letters, the most that a shapefile takes.
            "laid": line.laid_pieces,
            "pallets": line.pallets,
            "job": line.job,
            "site": line.site,
            "date": line.date,
            "reason": line.reason,
            "checks": line.checks,
        },
    });
    String::from_utf8(in_json(feature.to_string().into_bytes())).unwrap_or_default()
}

/// `day.csv`, `day.geojson`, `day.ndjson` and `day.html` while they are being written.
pub struct DaySheets {
    stage: Stage,
    table: Growing,
    map: Growing,
    documents: Growing,
    page: Growing,
    units: Units,
    rows: u64,
}

impl DaySheets {
    /// Begins all four.
    ///
    /// # Errors
    /// When a file cannot be made.
    pub fn begin(folder: &Folder, units: Units) -> Result<DaySheets, Fault> {
        let stage = folder.begin()?;
        let [table, map, documents, page] = name::SHEETS;
        let mut sheets = DaySheets {
            table: Growing::new(&stage, table)?,
            map: Growing::new(&stage, map)?,
            documents: Growing::new(&stage, documents)?,
            page: Growing::new(&stage, page)?,
            stage,
            units,
            rows: 0,
        };
        sheets.table.add(MARK.as_bytes())?;
        sheets.table.add(&csv_head())?;
        sheets.map.add(MAP_HEAD.as_bytes())?;
        sheets.page.add(page::head(units).as_bytes())?;
        Ok(sheets)
    }

    /// Adds a survey to all four.
    ///
    /// # Errors
    /// When the disk takes no more.
    pub fn add(
        &mut self,
        line: &Line,
        geometry: Option<&Value>,
        document: &[u8],
        link: &str,
    ) -> Result<(), Fault> {
        self.table.add(&csv_row(line))?;
        if self.rows > 0 {
            self.map.add(b",\n")?;
        }
        self.map.add(feature(line, geometry).as_bytes())?;
        self.documents.add(document)?;
        self.page
            .add(page::row(line, line.area.is_some(), link, self.units).as_bytes())?;
        self.rows += 1;
        Ok(())
    }

    /// Ends all four and puts them into the folder, in place of those of an earlier run.
    ///
    /// # Errors
    /// When the disk takes no more.
    pub fn finish(mut self, folder: &Folder, summary: &Summary) -> Result<(), Fault> {
        self.map.add(MAP_END.as_bytes())?;
        self.page.add(page::end(summary).as_bytes())?;
        let grown = vec![self.table, self.map, self.documents, self.page];
        folder.finish(&self.stage, grown)
    }
}

/// A JSON document on one line: blanks between its parts are taken out, those within texts stay.
#[must_use]
pub fn squeezed(document: &[u8]) -> Vec<u8> {
    let mut line = Vec::with_capacity(document.len());
    let (mut inside, mut escaped) = (false, false);
    for &byte in document {
        if inside {
            inside = escaped || byte != b'"';
            escaped = !escaped && byte == b'\\';
        } else if byte.is_ascii_whitespace() {
            continue;
        } else {
            inside = byte == b'"';
        }
        line.push(byte);
    }
    line.push(b'\n');
    line
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn squeezing_leaves_texts_and_numbers_alone() {
        let value = json!({"a b": [1.0e-300, 0.1, "x \"y\\\" \n z"], "c\\": {"d": null}});
        let pretty = serde_json::to_vec_pretty(&value).unwrap();
        let mut plain = serde_json::to_vec(&value).unwrap();
        plain.push(b'\n');
        assert_eq!(squeezed(&pretty), plain);
    }

    #[test]
    fn formulas_stay_text_in_the_table() {
        let line = Line {
            name: "=1+1,2".into(),
            status: crate::survey::measured::Status::Withheld,
            job: None,
            site: Some("@x".into()),
            date: None,
            area: None,
            pieces: None,
            laid_pieces: None,
            pallets: None,
            checks: Some(1),
            reason: Some("two\nlines".into()),
        };
        let mut table = csv_head();
        table.extend(csv_row(&line));
        let mut reader = csv::Reader::from_reader(table.as_slice());
        let row = reader.records().next().unwrap().unwrap();
        assert_eq!(
            (&row[0], &row[9], &row[11]),
            ("'=1+1,2", "'@x", "two lines")
        );
        assert_eq!(row.len(), 15);
    }
}
