//! The figures that a band is judged by, from the outcomes of many walks. A band at 95 % tells the truth if about 95 in 100 of the true
//! areas lie within theirs; and it should be no wider than it must be, which the ideal band tells.

use super::cell::Walk;
use super::run::{Draw, Outcome, Walked, outcome, walked_with};
use rayon::prelude::*;
use std::collections::BTreeMap;

/// The figures of one walk: what was true, and what came out.
#[derive(Debug, Clone, PartialEq)]
pub struct Figure {
    pub walk: Walk,
    /// The true area.
    pub area_m2: f64,
    /// The true perimeter.
    pub perimeter_m: f64,
    /// The ideal band, of someone who knows everything.
    pub ideal_m2: f64,
    /// See [`Walked::plain_m2`].
    pub plain_m2: f64,
    /// See [`Walked::hopeless`].
    pub hopeless: bool,
    /// See [`Walked::moved_m2`].
    pub moved_m2: f64,
    /// Whether the surveyor came in from a gate and left again.
    pub led_in: bool,
    /// What was done to the log, in words; empty for a clean one.
    pub blunder: String,
    pub outcome: Outcome,
}

impl Figure {
    /// Measures a walk's log, and puts what came out beside the truth.
    pub fn of(walked: &Walked) -> Figure {
        Figure {
            walk: walked.walk,
            area_m2: walked.outline.area_m2,
            perimeter_m: walked.outline.perimeter_m,
            ideal_m2: walked.ideal.band_m2,
            plain_m2: walked.plain_m2,
            hopeless: walked.hopeless(),
            moved_m2: walked.moved_m2,
            led_in: walked.habits.lead_m > 0.0,
            blunder: walked.blunder.clone(),
            outcome: outcome(walked),
        }
    }
}

/// Measures every walk, on all threads, and calls `done` after each. The figures come back in the order of the walks.
pub fn figures(walks: &[Walk], receiver: Draw, done: impl Fn() + Sync) -> Vec<Figure> {
    walks
        .par_iter()
        .map(|walk| {
            let figure = Figure::of(&walked_with(*walk, receiver));
            done();
            figure
        })
        .collect()
}

/// A group of walks, summed up. Shares run from 0 to 1, and a share of nothing is not a number.
#[derive(Debug, Clone, PartialEq)]
pub struct Score {
    pub walks: usize,
    /// How many of them got an area and a band.
    pub measured: usize,
    /// The share of those measured whose true area lies within the band.
    pub coverage: f64,
    /// The mean of (measured - true) / band: how far results lean to one side.
    pub bias: f64,
    /// The middle one (the median) of all band / ideal band, and that of all band / true area.
    pub band_over_ideal: f64,
    pub band_over_area: f64,
    /// The share flagged `check`, of those measured that could be measured at all (that are not hopeless). On the others a flag is
    /// right.
    pub flagged: f64,
    /// The share whose area was withheld, and the share that was refused, of all walks that could be measured at all.
    pub withheld: f64,
    pub refused: f64,
    /// The mean of measured / true perimeter - 1, of those measured that could be measured at all.
    pub perimeter_bias: f64,
    /// The share of those measured in which another number of laps was found than was walked.
    pub laps_wrong: f64,
}

/// The share that a part is of the whole; of nothing, not a number.
fn share(part: usize, whole: usize) -> f64 {
    if whole == 0 {
        f64::NAN
    } else {
        part as f64 / whole as f64
    }
}

/// The sum by the number of the values; of none, not a number.
fn mean(values: impl Iterator<Item = f64>) -> f64 {
    let (sum, count) = values.fold((0.0, 0), |(sum, count), v| (sum + v, count + 1));
    sum / f64::from(count)
}

/// The middle value, or the mean of the two in the middle; of none, not a number.
fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    let n = values.len();
    match (values.get((n.max(1) - 1) / 2), values.get(n / 2)) {
        (Some(a), Some(b)) => (a + b) / 2.0,
        _ => f64::NAN,
    }
}

impl Score {
    /// Sums up a group.
    pub fn of(figures: &[&Figure]) -> Score {
        struct One<'a> {
            figure: &'a Figure,
            error_m2: f64,
            band_m2: f64,
            flagged: bool,
            laps: u32,
            perimeter_m: Option<f64>,
        }
        let measured: Vec<One> = figures
            .iter()
            .filter_map(|figure| match &figure.outcome {
                Outcome::Measured {
                    area_m2,
                    band_m2,
                    flagged,
                    laps,
                    perimeter_m,
                    ..
                } => Some(One {
                    figure,
                    error_m2: area_m2 - figure.area_m2,
                    band_m2: *band_m2,
                    flagged: *flagged,
                    laps: *laps,
                    perimeter_m: *perimeter_m,
                }),
                _ => None,
            })
            .collect();
        let count = |test: fn(&One) -> bool| measured.iter().filter(|one| test(one)).count();
        let fit: Vec<&&Figure> = figures.iter().filter(|figure| !figure.hopeless).collect();
        let ended = |test: fn(&Outcome) -> bool| {
            share(
                fit.iter().filter(|figure| test(&figure.outcome)).count(),
                fit.len(),
            )
        };
        let n = measured.len();
        Score {
            walks: figures.len(),
            measured: n,
            coverage: share(count(|one| one.error_m2.abs() <= one.band_m2), n),
            bias: mean(measured.iter().map(|one| one.error_m2 / one.band_m2)),
            band_over_ideal: median(
                measured
                    .iter()
                    .map(|one| one.band_m2 / one.figure.ideal_m2)
                    .collect(),
            ),
            band_over_area: median(
                measured
                    .iter()
                    .map(|one| one.band_m2 / one.figure.area_m2)
                    .collect(),
            ),
            flagged: share(
                count(|one| one.flagged && !one.figure.hopeless),
                count(|one| !one.figure.hopeless),
            ),
            withheld: ended(|outcome| matches!(outcome, Outcome::Withheld { .. })),
            refused: ended(|outcome| matches!(outcome, Outcome::Refused { .. })),
            perimeter_bias: mean(
                measured
                    .iter()
                    .filter(|one| !one.figure.hopeless)
                    .filter_map(|one| Some(one.perimeter_m? / one.figure.perimeter_m - 1.0)),
            ),
            laps_wrong: share(
                count(|one| one.laps as usize != one.figure.walk.cell.laps),
                n,
            ),
        }
    }
}

/// The figures of each group, by its name.
pub type Groups<'a> = BTreeMap<String, Vec<&'a Figure>>;

/// Groups figures by the name that `name` gives a walk.
pub fn grouped<'a>(figures: &'a [Figure], name: impl Fn(&Walk) -> String) -> Groups<'a> {
    let mut groups = Groups::new();
    for figure in figures {
        groups.entry(name(&figure.walk)).or_default().push(figure);
    }
    groups
}

/// What became of one blunder.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Ending {
    /// The same walk without the blunder was flagged or got no area, so there is nothing to compare with.
    NoCompare,
    /// The result was flagged, withheld or refused.
    Caught,
    /// The result is not flagged, and its area differs from the clean walk's by no more than the clean walk's band.
    Harmless,
    /// The result is not flagged, and its area moved by more than the clean walk's band, but by no more than its own, wider one.
    Allowed,
    /// The result is not flagged, though its area moved by more than either band.
    Missed,
}

/// Compares a walk with a blunder with the same walk without it. Gives what became of the blunder, and how far the area moved, in bands
/// of the clean walk.
pub fn ending(clean: &Outcome, spoilt: &Outcome) -> (Ending, f64) {
    let Outcome::Measured {
        area_m2: before,
        band_m2,
        flagged: false,
        ..
    } = clean
    else {
        return (Ending::NoCompare, f64::NAN);
    };
    match spoilt {
        Outcome::Measured {
            area_m2,
            band_m2: own_m2,
            flagged,
            ..
        } => {
            let moved_m2 = (area_m2 - before).abs();
            let ending = match flagged {
                true => Ending::Caught,
                false if moved_m2 <= *band_m2 => Ending::Harmless,
                false if moved_m2 <= *own_m2 => Ending::Allowed,
                false => Ending::Missed,
            };
            (ending, moved_m2 / band_m2)
        }
        _ => (Ending::Caught, f64::INFINITY),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn measured(area_m2: f64, flagged: bool) -> Outcome {
        Outcome::Measured {
            area_m2,
            band_m2: 10.0,
            flagged,
            laps: 1,
            perimeter_m: Some(41.0),
            perimeter_sigma_m: Some(0.5),
            codes: String::new(),
        }
    }

    fn figure(outcome: Outcome, hopeless: bool) -> Figure {
        Figure {
            walk: Walk::from_number(0).unwrap(),
            area_m2: 100.0,
            perimeter_m: 40.0,
            ideal_m2: 8.0,
            plain_m2: 101.0,
            hopeless,
            moved_m2: 0.0,
            led_in: false,
            blunder: String::new(),
            outcome,
        }
    }

    #[test]
    fn a_score_counts_what_it_says() {
        let withheld = || Outcome::Withheld {
            codes: String::new(),
        };
        let figures = [
            figure(measured(105.0, false), false),
            figure(measured(95.0, true), false),
            figure(measured(115.0, false), false),
            figure(withheld(), false),
            figure(withheld(), true),
            figure(measured(115.0, true), true),
        ];
        let score = Score::of(&figures.iter().collect::<Vec<_>>());
        assert_eq!((score.walks, score.measured), (6, 4));
        assert!((score.coverage - 0.5).abs() < 1e-12);
        assert!((score.bias - 0.75).abs() < 1e-12);
        assert!((score.band_over_ideal - 1.25).abs() < 1e-12);
        assert!((score.flagged - 1.0 / 3.0).abs() < 1e-12);
        assert!((score.withheld - 0.25).abs() < 1e-12);
        assert!((score.perimeter_bias - 0.025).abs() < 1e-12);
        assert_eq!(score.laps_wrong, 0.0);
    }

    #[test]
    fn a_blunder_is_caught_harmless_or_missed() {
        let clean = measured(100.0, false);
        let end = |spoilt: Outcome| ending(&clean, &spoilt).0;
        assert_eq!(end(measured(109.0, false)), Ending::Harmless);
        assert_eq!(end(measured(111.0, false)), Ending::Missed);
        let mut wide = measured(111.0, false);
        if let Outcome::Measured { band_m2, .. } = &mut wide {
            *band_m2 = 12.0;
        }
        assert_eq!(end(wide), Ending::Allowed);
        assert_eq!(end(measured(150.0, true)), Ending::Caught);
        let refused = Outcome::Refused { code: "x".into() };
        assert_eq!(end(refused.clone()), Ending::Caught);
        assert_eq!(ending(&refused, &clean).0, Ending::NoCompare);
    }
}
