//! A ring's fixes put on the plane, with everything else that is asked of them (times, receiver, heights), so that the fixes themselves
//! need not be kept.

use super::settling::Settling;
use crate::band::ground::Height;
use crate::band::model::{Receiver, SigmaSource, fix_sigma_m};
use crate::fix::{Fix, Source};
use crate::plane::Plane;
use crate::ring::distance_m;
use crate::walk::Spot;
use std::borrow::{Borrow, Cow};

/// How many heights of one ring are used, at most: more say no more of a plane.
const MOST_HEIGHTS: usize = 1000;

/// The fixes of one ring on the plane.
pub struct Placed {
    /// The fixes on the plane, in the order of the log. Fixes without times have the clock of a walk at one metre a second.
    pub spots: Vec<Spot>,
    /// Whether each fix has a time.
    pub timed: bool,
    /// Whether all are points of a list or of a route; and whether all are of a route.
    pub(super) listed: bool,
    pub(super) route: bool,
    /// The track of the first fix.
    pub(super) track: Option<u16>,
    pub(super) receiver: Receiver,
    pub(super) sigma_source: SigmaSource,
    /// The height of each fix, metres, not a number where it has none; empty where no fix has one.
    heights_m: Vec<f64>,
}

impl Placed {
    /// Puts fixes on the plane. `given_m` is a sigma that the surveyor gave. Fixes that are owned are consumed, so that their memory
    /// serves for the spots.
    pub(crate) fn new(fixes: Cow<'_, [Fix]>, plane: &Plane, given_m: Option<f64>) -> Placed {
        let mut placed = Placed::asked(fixes.iter(), given_m);
        placed.spots = match fixes {
            // The standard library collects these into the memory of the fixes; for a long log there is no room for both.
            Cow::Owned(fixes) => placed.put(fixes.into_iter(), plane, given_m),
            Cow::Borrowed(fixes) => placed.put(fixes.iter(), plane, given_m),
        };
        placed.spots.shrink_to_fit();
        placed
    }

    /// Puts some fixes of a log on the plane.
    pub(crate) fn of(fixes: &[&Fix], plane: &Plane, given_m: Option<f64>) -> Placed {
        let all = fixes.iter().copied();
        let mut placed = Placed::asked(all.clone(), given_m);
        placed.spots = placed.put(all, plane, given_m);
        placed
    }

    /// Answers everything but where the fixes are.
    fn asked<'a>(fixes: impl Iterator<Item = &'a Fix> + Clone, given_m: Option<f64>) -> Placed {
        let height_m = |fix: &Fix| fix.height_m.filter(|h| h.is_finite());
        let heights_m = match fixes.clone().any(|fix| height_m(fix).is_some()) {
            true => fixes
                .clone()
                .map(|fix| height_m(fix).unwrap_or(f64::NAN))
                .collect(),
            false => Vec::new(),
        };
        let all = |test: &dyn Fn(&Fix) -> bool| fixes.clone().all(test);
        let (receiver, sigma_source) = class(fixes.clone(), given_m);
        Placed {
            spots: Vec::new(),
            timed: all(&|fix| fix.clock_s.is_some()),
            listed: all(&|fix| matches!(fix.source, Source::Point | Source::Rtept)),
            route: all(&|fix| fix.source == Source::Rtept),
            track: fixes.clone().next().map(|fix| fix.track),
            receiver,
            sigma_source,
            heights_m,
        }
    }

    /// The fixes on the plane, each with its time and its sigma. A fix that cannot be projected is left out.
    fn put<F: Borrow<Fix>>(
        &self,
        fixes: impl Iterator<Item = F>,
        plane: &Plane,
        given_m: Option<f64>,
    ) -> Vec<Spot> {
        let (mut way_m, mut last) = (0.0, None);
        let mut settling = Settling::default();
        fixes
            .enumerate()
            .filter_map(|(index, fix)| {
                let fix: &Fix = fix.borrow();
                let at = plane.forward(fix.lat_deg, fix.lon_deg);
                if !(at.x.is_finite() && at.y.is_finite()) {
                    return None;
                }
                way_m += last.map_or(0.0, |last| distance_m(last, at));
                last = Some(at);
                let clock_s = fix.clock_s.filter(|_| self.timed);
                let claimed_m = fix_sigma_m(fix, given_m).0;
                let sigma_m = match clock_s.filter(|_| given_m.is_none()) {
                    Some(t_s) => settling.sigma_m(fix.quality, t_s, claimed_m),
                    None => claimed_m,
                };
                Some(Spot {
                    at,
                    t_s: clock_s.unwrap_or(way_m),
                    sigma_m,
                    fix: index,
                })
            })
            .collect()
    }

    /// The heights along a line of its spots; those without one are left out.
    pub(super) fn heights(&self, line: &[Spot]) -> Vec<Height> {
        line.iter()
            .step_by(line.len().div_ceil(MOST_HEIGHTS).max(1))
            .filter_map(|spot| {
                Some(Height {
                    at: spot.at,
                    t_s: spot.t_s,
                    height_m: (self.heights_m.get(spot.fix).copied()).filter(|h| h.is_finite())?,
                    sigma_m: spot.sigma(),
                })
            })
            .collect()
    }
}

/// The receiver's class and the source of its sigma, by those fixes from which most of the error comes. If a tenth of a log is RTK float
/// (a solution that has not settled), it errs more than all the rest with a fixed solution, so that fixes are weighed by their variance.
fn class<'a>(
    fixes: impl Iterator<Item = &'a Fix>,
    given_m: Option<f64>,
) -> (Receiver, SigmaSource) {
    // In the order from worst to best: of classes that weigh equally the last one is taken.
    const CLASSES: [Receiver; 5] = [
        Receiver::Unknown,
        Receiver::Autonomous,
        Receiver::Differential,
        Receiver::RtkFloat,
        Receiver::RtkFixed,
    ];
    const SOURCES: [SigmaSource; 3] = [SigmaSource::Hdop, SigmaSource::Assumed, SigmaSource::Gst];
    let (mut of_class, mut of_source) = ([0.0; CLASSES.len()], [0.0; SOURCES.len()]);
    for fix in fixes {
        let ([east_m, north_m], source) = fix_sigma_m(fix, given_m);
        let weight = east_m * east_m + north_m * north_m;
        let class = Receiver::of(fix.quality);
        for (sum, one) in of_class.iter_mut().zip(CLASSES) {
            *sum += if one == class { weight } else { 0.0 };
        }
        for (sum, one) in of_source.iter_mut().zip(SOURCES) {
            *sum += if one == source { weight } else { 0.0 };
        }
    }
    let receiver = CLASSES.into_iter().zip(of_class);
    let receiver = receiver.max_by(|a, b| a.1.total_cmp(&b.1));
    let source = SOURCES.into_iter().zip(of_source);
    let source = source.max_by(|a, b| a.1.total_cmp(&b.1));
    (
        receiver.map_or(Receiver::Unknown, |c| c.0),
        match given_m {
            Some(_) => SigmaSource::Given,
            None => source.map_or(SigmaSource::Assumed, |s| s.0),
        },
    )
}
