//! The record, for whoever must account for the measurement later: the area, what its band is made of, what checks it, what was left out
//! and why, why so much is ordered, and which files and settings all of it rests on.

use super::super::block::{Bar, Block, Paper, Table};
use super::super::board::Page;
use super::super::text::words;
use super::super::{order, tape, text};
use super::customer::lead;
use super::{alert, beds, customer_pair, edges, paper, provenance, said, surveyor_pair};
use crate::notice::Weight;
use crate::survey::Measured;
use crate::survey::measured::{Area, Band};
use crate::units::{Rounded, Units, two_figures};

/// A cause with less than this share of the band's variance (its squared sigma) changes no figure that is shown, so it is left out.
const SHOWN: f64 = 0.002;

/// The record as a list of blocks. `plan` is the plan of the lawn, which is a sheet of its own as well and so need not be drawn twice.
#[must_use]
pub fn record(measured: &Measured, plan: &Page, units: Units) -> Paper {
    let mut blocks = vec![lead(measured, units)];
    blocks.extend(alert(measured, usize::MAX, units));
    blocks.extend(customer_pair(measured));
    blocks.extend(surveyor_pair(measured));
    if !measured.drawing.lawns.is_empty() {
        blocks.push(Block::Plan(Box::new(plan.clone())));
    }
    if let Some(area) = &measured.area {
        blocks.push(Block::Heading("Numbers".to_owned()));
        if area.deductions_m2 == 0.0 && measured.lawns.len() < 2 {
            blocks.push(Block::Say(
                "Nothing was taken off: the net area is what lies inside the edge.".to_owned(),
            ));
        }
        blocks.extend(said(|out| text::breakdown(area, measured, units, out)));
        blocks.extend(said(|out| tape::shapes(measured, units, out)));
        if let Some(band) = &measured.band {
            blocks.extend(budget(area, band, measured, units));
        }
        blocks.extend(said(|out| tape::agreement(measured, units, out)));
        blocks.extend(said(|out| text::checks(measured, units, out)));
        blocks.extend(said(|out| text::remedies(area, measured, units, out)));
    }
    let notes = measured
        .warnings
        .iter()
        .filter(|w| w.weight() == Weight::Note);
    let notes: Vec<Block> = notes.map(|w| Block::Point(w.said(units))).collect();
    if !notes.is_empty() {
        blocks.push(Block::Heading("Notes".to_owned()));
        blocks.extend(notes);
    }
    if let Some(ordered) = &measured.order {
        blocks.push(Block::Heading("Why so much is ordered".to_owned()));
        blocks.extend(said(|out| order::covers(ordered, units, out)));
        if let Some(turf) = &ordered.turf {
            blocks.extend(said(|out| order::turf_lines(turf, units, out)));
        }
        blocks.extend(said(|out| order::materials(ordered, units, out)));
        if let Some(turf) = &ordered.turf {
            blocks.extend(said(|out| order::compared(turf, out)));
        }
    }
    blocks.extend(edges(measured, units));
    blocks.extend(corners(measured, units));
    blocks.extend(beds(measured, units));
    blocks.extend(provenance::provenance(measured, units));
    paper(measured, units, "Record", blocks)
}

/// What the band is made of: a bar for each cause of error, the largest first, and how wide the band would be in the worst case.
fn budget(area: &Area, band: &Band, measured: &Measured, units: Units) -> Vec<Block> {
    let whole_m4: f64 = band.terms.iter().map(|term| term.sigma_m2.powi(2)).sum();
    let mut blocks = vec![
        Block::Heading("How sure is it".to_owned()),
        Block::Say(words::receiver(band, measured, units)),
    ];
    let mut terms: Vec<_> = band
        .terms
        .iter()
        .filter(|term| whole_m4 > 0.0 && term.sigma_m2.powi(2) > SHOWN * whole_m4)
        .collect();
    terms.sort_by(|a, b| b.sigma_m2.total_cmp(&a.sigma_m2));
    if !terms.is_empty() {
        blocks.push(Block::Bars(
            terms
                .iter()
                .map(|term| {
                    let share = term.sigma_m2.powi(2) / whole_m4;
                    let part = if share < 0.01 {
                        "under 1 %".to_owned()
                    } else {
                        format!("{:.0} %", 100.0 * share)
                    };
                    Bar {
                        name: words::cause(term.term, measured.is_drawn()).to_owned(),
                        value: format!(
                            "± {} {}, {part}",
                            two_figures(units.area(area.coverage_factor * term.sigma_m2)),
                            units.area_unit()
                        ),
                        share,
                    }
                })
                .collect(),
        ));
        blocks.push(Block::Say(
            "Each is a band of its own and its share of the whole; independent causes add by their squares, so the parts do not \
             add up to it."
                .to_owned(),
        ));
    }
    let walked = band.correlation_s.is_none() && !measured.is_drawn();
    if walked && band.worst_case_m2 > 1.02 * area.band_m2 {
        let worst = Rounded::new(units.area(area.net_m2), units.area(band.worst_case_m2));
        blocks.push(Block::Say(format!(
            "A receiver's error drifts, and how slowly is not known from one walk. At the least lucky pace the band would be \
             ± {} {}.",
            worst.uncertainty,
            units.area_unit()
        )));
    }
    blocks
}

/// A table of corners and marks with their places, in degrees or in a plan's metres; none where no place is known.
fn corners(measured: &Measured, units: Units) -> Vec<Block> {
    if measured.points.is_empty() || (measured.on.is_none() && !measured.is_local()) {
        return Vec::new();
    }
    let rows = measured
        .points
        .iter()
        .map(|p| {
            let place = match p.lat.zip(p.lon) {
                Some((lat, lon)) => [format!("{lat:.7}"), format!("{lon:.7}")],
                None => [format!("{:.3}", p.x_m), format!("{:.3}", p.y_m)],
            };
            let [first, second] = place;
            let sigma = format!("± {}", units.small_length(p.sigma_m));
            vec![p.name.clone(), first, second, sigma]
        })
        .collect();
    let head = match measured.is_local() {
        true => ["", "plan x m", "plan y m", "one sigma"],
        false => ["", "latitude °", "longitude °", "one sigma"],
    };
    vec![
        Block::Heading("Corners and marks".to_owned()),
        Block::Table(Table::new(&head, &[false, true, true, true], rows)),
    ]
}
