//! A track drawn as a small picture of characters, for a terminal. North is up; S marks the start and E the end.

use crate::fix::Fix;

/// A drawn track.
pub(super) struct Plot {
    pub rows: Vec<String>,
    /// How many metres one character is wide. It stands for twice as many metres in height.
    pub step_m: f64,
}

/// The picture's size at most, in characters.
const WIDEST: usize = 60;
const HIGHEST: usize = 20;
/// A terminal's character is about twice as high as wide.
const TALL: f64 = 2.0;

/// Draws the fixes, as large as fits. `None` where there is nothing to see: fewer than three fixes, or all in one place.
pub(super) fn track(fixes: &[&Fix]) -> Option<Plot> {
    let first = fixes.first().filter(|_| fixes.len() > 2)?;
    let places: Vec<(f64, f64)> = fixes.iter().map(|fix| fix.off_m(first)).collect();
    let low = places
        .iter()
        .fold((0.0f64, 0.0f64), |a, p| (a.0.min(p.0), a.1.min(p.1)));
    let high = places
        .iter()
        .fold((0.0f64, 0.0f64), |a, p| (a.0.max(p.0), a.1.max(p.1)));
    let (width, height) = (high.0 - low.0, high.1 - low.1);
    let step_m = (width / (WIDEST - 1) as f64).max(height / (TALL * (HIGHEST - 1) as f64));
    if !(step_m > 0.0 && step_m.is_finite()) {
        return None;
    }
    let cell = |p: &(f64, f64)| {
        let column = ((p.0 - low.0) / step_m).round() as usize;
        let row = ((high.1 - p.1) / (TALL * step_m)).round() as usize;
        (row.min(HIGHEST - 1), column.min(WIDEST - 1))
    };
    let mut rows = vec![vec![' '; WIDEST]; HIGHEST];
    let mut set = |at: (usize, usize), c: char| {
        if let Some(place) = rows.get_mut(at.0).and_then(|row| row.get_mut(at.1)) {
            *place = c;
        }
    };
    for place in &places {
        set(cell(place), '.');
    }
    set(cell(places.last()?), 'E');
    set(cell(places.first()?), 'S');
    let mut rows: Vec<String> = rows
        .iter()
        .map(|row| row.iter().collect::<String>().trim_end().to_string())
        .collect();
    while rows.last().is_some_and(String::is_empty) {
        rows.pop();
    }
    Some(Plot { rows, step_m })
}
