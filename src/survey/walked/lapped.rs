//! A cleaned walk with its laps, and all that is worked out from them: the area, the edge, how the laps close, and what the walk shows of
//! its receiver.

use super::area::LapArea;
use super::beside::{gaps_on_edge, jumps_that_matter, lost_beside_s, suspects};
use super::passes::{Compare, Pass};
use super::{Closed, Odd, Track, Witness, drift, line, unseen};
use crate::band::evidence;
use crate::band::rough::{Rough, roughness_m};
use crate::edge::{self, Edge};
use crate::left_out::LeftOut;
use crate::notice::Course;
use crate::refusal::Refusal;
use crate::ring::signed_area_m2;
use crate::walk::clean::{Cleaned, Gap};
use crate::walk::laps::{Laps, Leg, may_gape_m};
use crate::walk::{Spot, pauses};
use std::borrow::Cow;
use std::ops::RangeInclusive;

/// A cleaned walk with its laps.
pub(super) struct Lapped<'a> {
    pub cleaned: &'a Cleaned,
    pub laps: &'a Laps,
    pub passes: &'a [Pass],
    pub track: &'a Track,
    /// Whether its spots are corners joined by straight lines.
    pub corner_list: bool,
}

impl Lapped<'_> {
    pub(crate) fn spots(&self) -> &[Spot] {
        &self.cleaned.spots
    }

    /// Each run of laps in one direction, as a range of spots.
    pub(crate) fn runs(&self) -> Vec<RangeInclusive<usize>> {
        let run = |leg: &Leg| leg.ends().0..=leg.ends().1;
        self.laps.legs.iter().map(run).collect()
    }

    /// The line that was walked.
    pub(crate) fn line(&self) -> Cow<'_, [Spot]> {
        line(self.spots(), &self.runs())
    }

    /// The area inside the laps.
    pub(crate) fn area(&self) -> LapArea {
        let straight = self.corner_list || !self.track.timed;
        LapArea::of(
            self.cleaned,
            self.laps,
            &self.runs(),
            straight,
            self.track.sigma_m,
        )
    }

    /// The stretches of the laps without a fix, each with what other laps show of it.
    pub(crate) fn gaps(&self) -> Vec<Gap> {
        let mut gaps = gaps_on_edge(&self.cleaned.gaps, self.laps);
        unseen::shown_by_laps(&mut gaps, self.spots(), self.passes, self.track);
        gaps
    }

    /// What the walk itself says of the receiver's errors; corners that were listed say nothing.
    pub(crate) fn witness(&self) -> Witness {
        if self.corner_list {
            return Witness::default();
        }
        let Track {
            pace_m_s, step_s, ..
        } = *self.track;
        let walks = self.runs().into_iter().map(|run| &self.spots()[run]);
        let pauses = pauses::find(self.spots(), pace_m_s);
        Witness {
            rough: roughness_m(walks, step_s, pace_m_s)
                .filter(|_| self.track.timed)
                .map(|size_m| Rough {
                    size_m,
                    sigma_m: self.track.sigma_m,
                    receiver: self.track.receiver,
                }),
            stood: evidence::standing(self.spots(), &pauses),
            differences: evidence::differences(self.spots(), self.laps, step_s),
        }
    }

    /// The edge fitted through the laps, drawn so that it holds this area.
    ///
    /// # Errors
    /// None can be drawn that holds it.
    pub(crate) fn edge(
        &self,
        area_m2: f64,
        rough: Option<&Rough>,
        what: &Course,
    ) -> Result<Edge, Refusal> {
        let rings: Vec<(&[Spot], bool)> = (self.passes.iter())
            .map(|pass| (&self.spots()[pass.first..=pass.last], pass.turn < 0.0))
            .collect();
        let unsteady = rough.map_or(1.0, Rough::of_claimed);
        let Track {
            pace_m_s,
            step_s,
            sigma_m,
            ..
        } = *self.track;
        let mut edge = edge::fit(&rings, pace_m_s, step_s, unsteady, self.corner_list);
        edge.fill(area_m2);
        // The mean of laps that err by as much as the lawn is wide may hold next to nothing, and is then no picture of the lawn.
        const LEAST_DRAWN: f64 = 0.5;
        if signed_area_m2(&edge.ring()) < LEAST_DRAWN * area_m2 {
            return Err(Refusal::NoEdgeDrawn {
                walk: what.clone(),
                laps: self.laps.count(),
                area_m2,
                sigma_m,
            });
        }
        Ok(edge)
    }

    /// How the laps close.
    pub(crate) fn closed(&self) -> Closed {
        let gap_m = self.laps.closing_gap_m();
        let count = self.laps.count() as f64;
        Closed {
            gap_m,
            may_gape_m: (!self.corner_list && self.laps.count() == 1)
                .then(|| may_gape_m(self.track.sigma_m)),
            // A straight closing line can cut at most gap²/4 off a square corner. Taken as evenly spread up to that, it has a sigma of
            // about gap²/7.
            sigma_m2: gap_m * gap_m / 7.0 / count,
            elsewhere_m2: self.laps.elsewhere_m2(),
        }
    }

    /// What is odd about the walk.
    pub(crate) fn odd(&self, witness: &Witness, area_m2: f64) -> Odd {
        let compare = Compare {
            spots: self.spots(),
            passes: self.passes,
            track: self.track,
        };
        Odd {
            lost_beside_s: lost_beside_s(self.cleaned, self.laps, area_m2),
            jumps: jumps_that_matter(self.cleaned, self.laps, &compare),
            suspects: suspects(self.cleaned, self.passes),
            drift: (!self.corner_list)
                .then(|| drift::find(self.spots(), self.passes, &witness.differences, self.track))
                .flatten(),
        }
    }

    /// The fixes that are not in the laps, each with its reason.
    pub(crate) fn removed(&self) -> Vec<(usize, LeftOut)> {
        let spots = self.spots();
        let mut removed = self.cleaned.removed.clone();
        let first = self.laps.legs[0].ends().0;
        removed.extend(spots[..first].iter().map(|s| (s.fix, LeftOut::LeadIn)));
        let ends = self.laps.legs.iter().map(|leg| leg.ends().1);
        let starts = self.laps.legs.iter().skip(1).map(|leg| leg.ends().0);
        for (end, start) in ends.zip(starts.chain([spots.len()])) {
            let beside = &spots[(end + 1).min(start)..start];
            removed.extend(beside.iter().map(|s| (s.fix, LeftOut::LeadOut)));
        }
        removed
    }
}
