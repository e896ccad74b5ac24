//! Finds where the antenna stood still, and how far its positions scattered there against what the receiver claimed. Standing is told from
//! slow walking by mean positions: those of the parts of a stretch of time all lie near each other.

use crate::fix::Fix;
use crate::limits::log::standing as limits;
use crate::read::time_text;
use serde::Serialize;

/// A stretch in which the antenna stood still.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Standing {
    /// The first fix.
    pub from: String,
    /// The last fix.
    pub to: String,
    /// How many.
    pub fixes: u64,
    /// For how long.
    pub seconds: f64,
    /// Per axis, one sigma, metres, about the stretch's own mean. Scatter shows only what changed while standing:
    /// the whole stretch may be out by more.
    pub scatter_m: f64,
    /// Per axis, one sigma, metres, as the log claims; `None` where it claims nothing.
    pub claimed_m: Option<f64>,
}

/// The antenna stands where the mean positions of so many parts of this time, seconds, lie within [`limits::STILL_M`] metres of each other.
const LOOK_S: f64 = 20.0;
const PARTS: usize = 4;
/// At both ends of a standing, fixes are taken to belong to the walk that are further from the median position than this many median distances
/// and, on top of it, so many metres.
const ENDS: f64 = 3.0;
const ENDS_M: f64 = 0.05;

/// Sums of the positions up to each fix, metres east and north of the first, from which the mean of any stretch follows quickly.
struct Sums(Vec<(f64, f64)>);

impl Sums {
    fn of(fixes: &[Fix]) -> Sums {
        let mut sums = vec![(0.0, 0.0)];
        let (mut east, mut north) = (0.0, 0.0);
        for fix in fixes {
            let at = fixes.first().map_or((0.0, 0.0), |first| fix.off_m(first));
            east += at.0;
            north += at.1;
            sums.push((east, north));
        }
        Sums(sums)
    }

    /// The mean position of the fixes from `from` to before `to`; `None` where there are none.
    fn mean(&self, from: usize, to: usize) -> Option<(f64, f64)> {
        let (a, b) = (self.0.get(from)?, self.0.get(to)?);
        let count = (to > from).then(|| (to - from) as f64)?;
        Some(((b.0 - a.0) / count, (b.1 - a.1) / count))
    }

    /// Whether no part of a stretch is far from another. Parts without fixes, as slow loggers leave some, do not count.
    fn still(&self, bounds: &[usize; PARTS + 1]) -> bool {
        let parts = bounds.windows(2);
        let means: Vec<_> = parts.filter_map(|p| self.mean(p[0], p[1])).collect();
        let near = |a: &(f64, f64), b: &(f64, f64)| (a.0 - b.0).hypot(a.1 - b.1) < limits::STILL_M;
        means.len() > 1 && means.iter().all(|a| means.iter().all(|b| near(a, b)))
    }
}

/// All stretches of at least [`limits::LEAST_S`] in which the antenna stood.
pub(super) fn find(fixes: &[Fix]) -> Vec<Standing> {
    let sums = Sums::of(fixes);
    let mut found = Vec::new();
    let mut start: Option<usize> = None;
    let mut end = 0;
    let mut bounds = [0; PARTS + 1];
    for (i, fix) in fixes.iter().enumerate() {
        let Some(now) = fix.clock_s else {
            start = None;
            continue;
        };
        bounds[0] = i;
        for (part, bound) in bounds.iter_mut().enumerate().skip(1) {
            let until = now + LOOK_S * part as f64 / PARTS as f64;
            *bound = (*bound).max(i);
            while fixes
                .get(*bound)
                .is_some_and(|f| f.clock_s.is_some_and(|t| t <= until))
            {
                *bound += 1;
            }
        }
        let last = bounds[PARTS].saturating_sub(1);
        match (sums.still(&bounds), start) {
            (true, None) => (start, end) = (Some(i), last),
            (true, Some(_)) => end = end.max(last),
            (false, Some(from)) if i > end => {
                found.extend(fixes.get(from..=end).and_then(measure));
                start = None;
            }
            (false, _) => {}
        }
    }
    if let Some(from) = start {
        found.extend(fixes.get(from..=end).and_then(measure));
    }
    found
}

/// The scatter of a stretch against what its fixes claim; `None` where it is too short.
fn measure(stretch: &[Fix]) -> Option<Standing> {
    let stretch = trimmed(stretch)?;
    let (first, last) = (stretch.first()?, stretch.last()?);
    let seconds = last.clock_s? - first.clock_s?;
    if seconds < limits::LEAST_S || stretch.len() < limits::LEAST_FIXES {
        return None;
    }
    let n = stretch.len() as f64;
    let places: Vec<(f64, f64)> = stretch.iter().map(|f| f.off_m(first)).collect();
    let mean_e = places.iter().map(|p| p.0).sum::<f64>() / n;
    let mean_n = places.iter().map(|p| p.1).sum::<f64>() / n;
    let squares: f64 = places
        .iter()
        .map(|p| (p.0 - mean_e).powi(2) + (p.1 - mean_n).powi(2))
        .sum();
    let claims: Vec<f64> = stretch
        .iter()
        .filter_map(|f| {
            let (e, n) = (f.sigma_east_m?, f.sigma_north_m?);
            Some((f64::from(e).powi(2) + f64::from(n).powi(2)) / 2.0)
        })
        .collect();
    Some(Standing {
        from: time_text(first),
        to: time_text(last),
        fixes: stretch.len() as u64,
        seconds,
        scatter_m: (squares / (2.0 * (n - 1.0))).sqrt(),
        claimed_m: (!claims.is_empty())
            .then(|| (claims.iter().sum::<f64>() / claims.len() as f64).sqrt()),
    })
}

/// The stretch without the steps that led there and away.
fn trimmed(stretch: &[Fix]) -> Option<&[Fix]> {
    let first = stretch.first()?;
    let middle_of = |mut values: Vec<f64>| {
        values.sort_by(f64::total_cmp);
        values.get(values.len() / 2).copied()
    };
    let places: Vec<(f64, f64)> = stretch.iter().map(|f| f.off_m(first)).collect();
    let east = middle_of(places.iter().map(|p| p.0).collect())?;
    let north = middle_of(places.iter().map(|p| p.1).collect())?;
    let away: Vec<f64> = places
        .iter()
        .map(|p| (p.0 - east).hypot(p.1 - north))
        .collect();
    let limit = ENDS * middle_of(away.clone())? + ENDS_M;
    let from = away.iter().position(|d| *d <= limit)?;
    let to = away.iter().rposition(|d| *d <= limit)?;
    stretch.get(from..=to)
}
