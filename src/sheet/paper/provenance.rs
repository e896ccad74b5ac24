//! The part of the record that says where its numbers come from: the files read with their hashes (so that one can tell later whether a
//! file is the same), the plane, the version of the program, and every setting with the place where it was made.

use super::super::block::{Block, Table};
use super::super::text;
use super::said;
use crate::survey::Measured;
use crate::units::Units;

/// The blocks of that part.
pub(crate) fn provenance(measured: &Measured, units: Units) -> Vec<Block> {
    let mut blocks = said(|out| text::source(measured, units, out));
    if measured.log.files.is_empty() {
        blocks.push(Block::Heading("Read from".to_owned()));
        blocks.push(Block::Say("No file could be read.".to_owned()));
    }
    let rows: Vec<Vec<String>> = measured
        .log
        .files
        .iter()
        .map(|file| vec![file.name.clone(), file.sha256.clone()])
        .collect();
    if !rows.is_empty() {
        blocks.push(Block::Table(Table::new(
            &["File", "SHA-256 of its bytes"],
            &[false, false],
            rows,
        )));
    }
    if let Some(plane) = &measured.plane {
        blocks.push(Block::Pair(
            "Plane".to_owned(),
            format!(
                "{}; lengths times {:.9} for a height of {:.1} m",
                plane.projection, plane.height_factor, plane.height_m
            ),
        ));
    }
    if let Some(area) = &measured.area {
        blocks.push(Block::Pair(
            "Confidence".to_owned(),
            format!(
                "{}, coverage factor {:.3}",
                area.confidence, area.coverage_factor
            ),
        ));
    }
    blocks.push(Block::Pair(
        "Worked out by".to_owned(),
        format!(
            "boundwalk {}, {}",
            env!("CARGO_PKG_VERSION"),
            measured.schema
        ),
    ));
    blocks.push(Block::Heading("Settings".to_owned()));
    blocks.push(settings(measured));
    blocks
}

/// A table of the settings that the result rests on, and where each was made; a sentence where there are none.
fn settings(measured: &Measured) -> Block {
    if measured.settings.is_empty() {
        return Block::Say(
            "No job sheet, and nothing asked: everything is as the log says, or a default."
                .to_owned(),
        );
    }
    let rows = measured
        .settings
        .iter()
        .map(|setting| {
            let value = match firms_own(&setting.key) {
                true => "with the firm".to_owned(),
                false => setting.value.clone(),
            };
            vec![setting.key.clone(), value, setting.from.to_string()]
        })
        .collect();
    Block::Table(Table::new(
        &["Setting", "value", "from"],
        &[false, false, false],
        rows,
    ))
}

/// Whether a setting is what the firm pays or the markup it adds. Their values are not shown, since a record may go to a customer.
fn firms_own(key: &str) -> bool {
    key.starts_with("cost.") || key == "price.markup_percent"
}
