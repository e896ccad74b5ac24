//! How long the edge is.
//!
//! The drawn line is not quite as long as the edge: the receiver's noise makes it wiggle, which adds length, and drawing cuts corners,
//! which loses some. What noise adds is worked out from the size of the errors. What drawing loses is found by experiment: a walk without
//! error along the drawing is drawn again, and what that loses is what the first drawing lost.

use super::{CLOSE, Node, Vertex, close, draw, gather};
use crate::process::WHITE_SHARE;
use crate::process::hand::NODE_SWAY_M;
use crate::ring::distance_m;
use crate::walk::Spot;
use geo::Coord;

/// One sigma of the length that drawing leaves open: a part of what drawing one lap loses, and what is open of any lap, metres (corners
/// walked through between two fixes, the closing). The first is chosen on simulated walks of ten kinds (`tests/edge_length.rs`, other
/// seeds), the second on walks with ways in and out under errors drawn as widely as real ones. Of those the lengths of one, two and three
/// laps were off by 0.28, 0.21 and 0.18 m with RTK, a hand's 0.13 m among it; docs/accuracy.md has others.
const OF_DRAWING: f64 = 1.2;
const LEAST_DRAWING_M: f64 = 0.18;

/// What one lap says of the edge's length.
pub(super) struct Length {
    /// Length of the drawing, metres.
    drawn_m: f64,
    /// What noise adds to that, metres.
    pub(super) noise_m: f64,
    /// What drawing loses, noise aside, metres.
    pub(super) lost_m: f64,
}

impl Length {
    /// Length of the edge, metres.
    pub(super) fn m(&self) -> f64 {
        // The part of the loss that is given back. It is chosen on simulated walks, whose lengths it brings within a percent of the
        // truth.
        const GIVEN_BACK: f64 = 0.7;
        self.drawn_m - self.noise_m + GIVEN_BACK * self.lost_m
    }
}

/// What a lap and its drawing say of the edge's length. A walk without error along the drawing is drawn again, which shows what drawing
/// at this spacing loses at corners. Drawing again also takes out most of what noise added, so that this is taken off the difference.
pub(super) fn length(
    lap: &[Node],
    shape: &[Vertex],
    pace_m_s: f64,
    step_s: f64,
    spacing_m: f64,
    unsteady: f64,
) -> Length {
    // How long the imagined walker stands at corners, seconds: long enough to be seen as a standstill. He stands only if the real one did
    // at most corners.
    const PAUSE_S: f64 = 12.0;
    let paused = lap.iter().filter(|node| node.paused).count();
    let corners = shape.iter().filter(|vertex| vertex.corner).count();
    let pause_s = if 2 * paused > corners { PAUSE_S } else { 0.0 };
    let fixes: f64 = lap.iter().map(|node| node.fixes).sum();
    let again = walked_again(shape, pace_m_s, step_s, pause_s, fixes);
    let mut again = gather(&again, pace_m_s, spacing_m);
    close(&mut again, CLOSE * spacing_m);
    let drawn_m = super::drawn_m(shape);
    let noise_m = unsteady * inflation_m(lap, step_s);
    Length {
        drawn_m,
        noise_m,
        lost_m: drawn_m - super::drawn_m(&draw::ring(&again, false)) - noise_m,
    }
}

/// The shortest and the longest of the laps' lengths, metres.
pub(super) fn range_m(laps: &[Length]) -> (f64, f64) {
    let lengths = laps.iter().map(Length::m);
    lengths.fold((f64::INFINITY, 0.0), |(least, most), m| {
        (m.min(least), m.max(most))
    })
}

/// What several laps say together, metres: the length, what was taken off it for noise, and one sigma of what drawing leaves open.
pub(super) fn together(laps: &[Length]) -> (f64, f64, f64) {
    let n = laps.len() as f64;
    let mean = |of: fn(&Length) -> f64| laps.iter().map(of).sum::<f64>() / n;
    let length_m = mean(Length::m);
    let apart_m2: f64 = laps.iter().map(|lap| (lap.m() - length_m).powi(2)).sum();
    let apart_m = (apart_m2 / (n * (n - 1.0)).max(1.0)).sqrt();
    // Chance falls differently on each lap, which passes its corners with fixes at other places and closes by itself, so that this part
    // gets smaller with more laps. What drawing loses, it loses of every lap alike.
    let drawing_m = (OF_DRAWING * mean(|lap| lap.lost_m)).hypot(LEAST_DRAWING_M / n.sqrt());
    // How far the laps' lengths lie apart shows what drawing leaves open, but also noise and drift, which the band has already. So the
    // larger of the two is taken and not their sum.
    (length_m, mean(|lap| lap.noise_m), drawing_m.max(apart_m))
}

/// A walk without error once round a drawn ring, standing at its corners for `pause_s` seconds. The real lap had `fixes` fixes, and the
/// imagined one has no more than about four times as many: a ring with one vertex on the other side of the Earth must not be walked step
/// by step.
fn walked_again(
    ring: &[Vertex],
    pace_m_s: f64,
    step_s: f64,
    pause_s: f64,
    fixes: f64,
) -> Vec<Spot> {
    const MOST_TIMES: f64 = 4.0;
    const ANYWAY: f64 = 1000.0;
    // No logger is quicker than this; a shorter step would only make standing take too many fixes.
    const QUICKEST_S: f64 = 0.05;
    let step_s = step_s.max(QUICKEST_S);
    let longest_m = super::drawn_m(ring) / (MOST_TIMES * fixes + ANYWAY);
    let step_m = (pace_m_s * step_s).max(0.01).max(longest_m);
    let paused = ring.iter().filter(|vertex| vertex.corner).count();
    let stood = paused * (pause_s / step_s) as usize;
    let mut spots: Vec<Spot> =
        Vec::with_capacity(stood + (super::drawn_m(ring) / step_m) as usize + 1);
    let mut t_s = 0.0;
    let mut put = |at: Coord<f64>, sigma_m: f64| {
        spots.push(Spot {
            at,
            t_s,
            sigma_m: [sigma_m; 2],
            fix: 0,
        });
        t_s += step_s;
    };
    let mut next_m = 0.0;
    for (here, there) in ring.iter().zip(ring.iter().skip(1).chain(ring.first())) {
        if here.corner {
            for _ in 0..(pause_s / step_s) as usize {
                put(here.at, here.sigma_m);
            }
        }
        let length_m = distance_m(here.at, there.at);
        while next_m < length_m {
            put(
                here.at + (there.at - here.at) * (next_m / length_m),
                here.sigma_m,
            );
            next_m += step_m;
        }
        next_m -= length_m;
    }
    crate::steps::count(spots.len());
    spots
}

/// What noise adds to the length of one drawn lap, metres: for each span of length `l`, the variance of the error's change across it,
/// divided by `2 l`. (A sideways error `e` makes a span of `l` metres longer by about `e² / (2 l)`.)
fn inflation_m(nodes: &[Node], step_s: f64) -> f64 {
    // A correlation time between the quickest and the slowest that the band room allows for, seconds.
    const TYPICAL_S: f64 = 60.0;
    let next = nodes.iter().skip(1).chain(nodes.first());
    nodes
        .iter()
        .zip(next)
        .map(|(a, b)| {
            let length_m = distance_m(a.at, b.at);
            let gap_s = (b.t_s - a.t_s).abs().max(step_s);
            let sigma2 = 0.5 * (a.sigma_m.powi(2) + b.sigma_m.powi(2));
            // The slow part of the error changes the more the longer the span takes; the white part and the swaying pole differ from node
            // to node.
            let drift = 2.0 * sigma2 * (1.0 - WHITE_SHARE) * (1.0 - (-gap_s / TYPICAL_S).exp());
            let white = sigma2 * WHITE_SHARE * (1.0 / a.fixes + 1.0 / b.fixes)
                + 2.0 * NODE_SWAY_M * NODE_SWAY_M;
            if length_m > 0.0 {
                (drift + white) / (2.0 * length_m).max(1e-9)
            } else {
                0.0
            }
        })
        .sum::<f64>()
}
