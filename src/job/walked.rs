//! Reads the tables of a job sheet on what was walked, marked and taped on site: lawns, corners, sides, deductions, paths, beds and tapes.

use super::keys::{Keys, Limits};
use super::{Bed, Carry, Corner, Deduct, Edge, Path as GardenPath, Place, Side, Span, Tape, Walk};
use std::path::{Path, PathBuf};

/// How far from an edge an antenna may be carried, metres; nobody who is further away still follows it.
const CARRY: Limits = Limits::NOT_NEGATIVE.up_to(10.0);
/// What one sigma of anything measured on site may be, metres.
const SIGMA: Limits = Limits::POSITIVE.up_to(100.0);
/// How long errors of position may last, seconds: up to a day, which is longer than any walk.
const CORRELATION: Limits = Limits::NOT_NEGATIVE.up_to(86_400.0);
/// What sizes of beds and garden paths may be, metres.
const BED_RADIUS: Limits = Limits::POSITIVE.up_to(500.0);
const PATH_WIDTH: Limits = Limits::POSITIVE.up_to(100.0);
const TAPE_LENGTH: Limits = Limits::POSITIVE.up_to(10_000.0);

/// Reads `[walk]` (with `only_one`, which needs no files) or one `[[lawn]]`.
pub(super) fn walk(mut keys: Keys<'_>, folder: &Path, only_one: bool) -> Walk {
    let label = keys.text("label").unwrap_or_default();
    let files = files(&mut keys, folder, !only_one);
    let walk = Walk {
        label,
        files,
        span: span(&mut keys),
        carry: carry(&mut keys, None),
        sigma_m: keys.length_m("sigma_m", SIGMA),
        correlation_s: keys.number("correlation_s", CORRELATION),
        grid: grid(&mut keys),
    };
    keys.default_is("sigma_m", "from the log");
    keys.default_is("correlation_s", "averaged over a range");
    keys.done();
    walk
}

/// Between which times of the log it was walked.
fn span(keys: &mut Keys<'_>) -> Span {
    Span {
        start_s: keys.time_of_day_s("start"),
        end_s: keys.time_of_day_s("end"),
    }
}

/// Where the coordinates of a list lie: a code of a grid, or "local".
fn grid(keys: &mut Keys<'_>) -> Option<String> {
    let code = keys.text("grid")?;
    if let Err(fault) = crate::grid::check(&code) {
        keys.fault(Some("grid"), fault.what(), fault.advice());
    }
    Some(code)
}

/// Gives lawns without a label one by their place in the sheet.
pub(super) fn name_apart(walks: &mut [Walk]) {
    let several = walks.len() > 1;
    for (at, walk) in walks.iter_mut().enumerate() {
        if walk.label.is_empty() {
            walk.label = if several {
                format!("lawn {}", at + 1)
            } else {
                "lawn".into()
            };
        }
    }
}

fn files(keys: &mut Keys<'_>, folder: &Path, needed: bool) -> Vec<PathBuf> {
    let names = keys.texts("files");
    if needed {
        keys.need("files", names.as_ref(), "the logs that were walked");
    }
    if names.as_ref().is_some_and(Vec::is_empty) {
        keys.fault(
            Some("files"),
            format!("{} files is empty.", keys.name()),
            "Name at least one log.",
        );
    }
    names
        .unwrap_or_default()
        .iter()
        .map(|name| folder.join(name))
        .collect()
}

/// Reads `carry_m`, `carry_side` and `carry_sigma_m`. `inherited` is the side that is used where an edge does not say its own.
fn carry(keys: &mut Keys<'_>, inherited: Option<Side>) -> Carry {
    let carry = Carry {
        offset_m: keys.length_m("carry_m", CARRY),
        side: keys
            .choice(
                "carry_side",
                &[("inside", Side::Inside), ("outside", Side::Outside)],
            )
            .or(inherited),
        sigma_m: keys.length_m("carry_sigma_m", CARRY),
    };
    keys.default_is("carry_m", "0");
    keys.default_is("carry_sigma_m", "0.02");
    if carry.offset_m.is_some_and(|m| m > 0.0) && carry.side.is_none() && !keys.has("carry_side") {
        keys.fault(
            Some("carry_m"),
            format!("{} has carry_m but no carry_side.", keys.name()),
            "Add carry_side = \"inside\" or \"outside\": which side of the edge the antenna was carried on.",
        );
    }
    if keys.has("carry_side") && !keys.has("carry_m") {
        keys.fault(
            Some("carry_side"),
            format!("{} has carry_side but no carry_m.", keys.name()),
            "Add carry_m: how far from the edge the antenna was carried.",
        );
    }
    carry
}

pub(super) fn edge(mut keys: Keys<'_>, side: Option<Side>) -> Option<Edge> {
    let from = corner(&mut keys, "from");
    let to = corner(&mut keys, "to");
    let carry = carry(&mut keys, side);
    if carry.offset_m.is_none() && carry.sigma_m.is_none() && !keys.has("carry_m") {
        keys.fault(
            None,
            format!("{} says nothing about how it was carried.", keys.name()),
            "Add carry_m or carry_sigma_m.",
        );
    }
    keys.done();
    Some(Edge {
        from: from?,
        to: to?,
        carry,
    })
}

/// A corner's letter or a mark's name.
fn corner(keys: &mut Keys<'_>, key: &'static str) -> Option<String> {
    let name = keys.text(key);
    keys.need(key, name, "a corner's letter or a mark's name")
}

/// Reads one `[[corner]]`. That another of `known` has its name is a fault.
pub(super) fn named_corner(mut keys: Keys<'_>, known: &[Corner]) -> Option<Corner> {
    let name = keys.text("name");
    let name = keys.need("name", name, "what sheets and tapes call this corner");
    let place = place(&mut keys, "on the edge");
    if let Some(name) = &name
        && known.iter().any(|k| k.name.eq_ignore_ascii_case(name))
    {
        keys.fault(
            Some("name"),
            format!("two corners are called {name}."),
            "Each corner needs a name of its own.",
        );
    }
    keys.done();
    Some(Corner {
        name: name?,
        place: place?,
    })
}

pub(super) fn deduct(mut keys: Keys<'_>, folder: &Path, number: usize) -> Deduct {
    let label = keys
        .text("label")
        .unwrap_or_else(|| format!("deduction {number}"));
    let files = files(&mut keys, folder, true);
    let span = span(&mut keys);
    let carry = carry(&mut keys, None);
    let grid = grid(&mut keys);
    keys.done();
    Deduct {
        label,
        files,
        span,
        carry,
        grid,
    }
}

pub(super) fn garden_path(mut keys: Keys<'_>, folder: &Path, number: usize) -> Option<GardenPath> {
    let label = keys
        .text("label")
        .unwrap_or_else(|| format!("path {number}"));
    let files = files(&mut keys, folder, true);
    let width_m = keys.length_m("width_m", PATH_WIDTH);
    let width_m = keys.need(
        "width_m",
        width_m,
        "a path walked along its middle needs its width",
    );
    let width_sigma_m = keys.length_m("width_sigma_m", SIGMA);
    let grid = grid(&mut keys);
    keys.done();
    Some(GardenPath {
        label,
        files,
        width_m: width_m?,
        width_sigma_m,
        grid,
    })
}

pub(super) fn bed(mut keys: Keys<'_>, number: usize) -> Option<Bed> {
    let label = keys
        .text("label")
        .unwrap_or_else(|| format!("bed {number}"));
    let place = place(&mut keys, "inside the lawn");
    let radius_m = radius_m(&mut keys);
    let radius_sigma_m = keys.length_m("radius_sigma_m", SIGMA);
    keys.done();
    Some(Bed {
        label,
        place: place?,
        radius_m: radius_m?,
        radius_sigma_m,
    })
}

fn radius_m(keys: &mut Keys<'_>) -> Option<f64> {
    let radius_m = keys.length_m("radius_m", BED_RADIUS);
    let diameter_m = keys.length_m("diameter_m", BED_RADIUS);
    match (keys.has("radius_m"), keys.has("diameter_m")) {
        (true, true) => keys.fault(
            Some("diameter_m"),
            format!("{} has both radius_m and diameter_m.", keys.name()),
            "Keep one.",
        ),
        (false, false) => keys.fault(
            None,
            format!("{} has no size.", keys.name()),
            "Add radius_m or diameter_m.",
        ),
        _ => {}
    }
    radius_m.or(diameter_m.map(|m| m / 2.0))
}

/// Reads a place: exactly one of `lat` with `lon`, `time`, and `pause`. `standing` says in messages where a standstill counts.
fn place(keys: &mut Keys<'_>, standing: &str) -> Option<Place> {
    let lat_deg = keys.number("lat", Limits::between(-90.0, 90.0));
    let lon_deg = keys.number("lon", Limits::between(-180.0, 180.0));
    let tod_s = keys.time_of_day_s("time");
    let pause = keys.integer("pause", 1..=10_000);
    let ways = [
        keys.has("lat") || keys.has("lon"),
        keys.has("time"),
        keys.has("pause"),
    ];
    match ways.iter().filter(|way| **way).count() {
        0 => keys.fault(
            None,
            format!("{} has no place.", keys.name()),
            format!(
                "Add lat and lon, or time (UTC, when you stood there), or pause (1 for the first standstill {standing})."
            ),
        ),
        1 => {
            if keys.has("lat") != keys.has("lon") {
                keys.fault(None, format!("{} has only one of lat and lon.", keys.name()), "Give both.");
            }
        }
        _ => keys.fault(
            None,
            format!("{} says its place in more than one way.", keys.name()),
            "Keep one of lat and lon, time, pause.",
        ),
    }
    if let (Some(lat_deg), Some(lon_deg)) = (lat_deg, lon_deg) {
        return Some(Place::At { lat_deg, lon_deg });
    }
    tod_s
        .map(|tod_s| Place::Time { tod_s })
        .or_else(|| Some(Place::Pause(u32::try_from(pause?).ok()?)))
}

pub(super) fn tape(mut keys: Keys<'_>) -> Option<Tape> {
    let from = corner(&mut keys, "from");
    let to = corner(&mut keys, "to");
    let length_m = keys.length_m("length_m", TAPE_LENGTH);
    let length_m = keys.need("length_m", length_m, "what the tape said");
    let sigma_m = keys.length_m("sigma_m", SIGMA);
    keys.default_is("sigma_m", "0.02");
    let straight = keys.flag("straight");
    if let (Some(from), Some(to)) = (&from, &to)
        && from == to
    {
        keys.fault(
            Some("to"),
            format!("{} runs from {from} to {to}.", keys.name()),
            "A tape is held between two different points.",
        );
    }
    keys.done();
    Some(Tape {
        from: from?,
        to: to?,
        length_m: length_m?,
        sigma_m,
        straight,
    })
}
