//! The places of a survey that have names, and how sure the length of the edge between them is.

use super::measured::Point;
use super::walked::Walked;
use super::{Survey, corners};
use crate::band::propagate::{Pull, correlated_variances_m4, merge};
use crate::plane::Plane;
use crate::walk::clean::Gap;
use geo::Coord;

/// One sigma of the length of all edges together, metres.
pub(super) fn perimeters_sigma_m(survey: &Survey) -> f64 {
    let each = survey.lawns.iter();
    let variance_m2: f64 = each.map(|l| perimeter_sigma_m(survey, l).powi(2)).sum();
    variance_m2.sqrt()
}

/// One sigma of the fitted edge's length, metres.
fn perimeter_sigma_m(survey: &Survey, ring: &Walked) -> f64 {
    // Over a few metres noise only turns the drawn sides about; it lengthens the edge as a whole only where it is slower than this,
    // seconds.
    const SMOOTH_S: f64 = 5.0;
    // One sigma of what noise adds to the length, as a part of what was taken off for it. It is chosen as the figures in `edge::length`
    // are.
    const OF_NOISE: f64 = 1.4;
    // Roughness is seen from second to second, and what changes within some more seconds turns sides about too: this many times as much
    // variance. It is chosen on single laps by RTK float under errors drawn as widely as real ones, whose lengths lay within their bands
    // in 90 % of them for one, and in 92 % for two.
    const SLOWER2: f64 = 2.0;
    let mut pulls: Vec<Pull> = ring
        .edge
        .vertices
        .iter()
        .zip(ring.edge.length_gradient())
        .map(|(v, g)| Pull {
            t_s: v.t_s,
            pull_m2: g.map(|w| w * v.sigma_m),
        })
        .collect();
    pulls.sort_by(|a, b| a.t_s.total_cmp(&b.t_s));
    let pulls = merge(&pulls, SMOOTH_S);
    let laps = f64::from(ring.laps.max(1));
    let process = &survey.process;
    let receiver: f64 = process
        .correlation_s
        .iter()
        .zip(correlated_variances_m4(&pulls, &process.correlation_s))
        .map(|(&correlation_s, variance)| process.scale2_of(correlation_s) * variance)
        .sum::<f64>()
        / laps;
    // If the hand holds the antenna outside the edge by e all the way round, the length grows by 2 pi e.
    let hand = std::f64::consts::TAU * ring.carry_sigma_m;
    // Noise is quick, so that the walk shows it. Where a walk is no rougher than the receiver claims, an error larger than claimed must
    // be a slow one, which `receiver` counts. A walk with gaps does not show what happens in them. Noise can make up no more of the edge
    // than there is.
    let rough = ring.witness.rough.as_ref().filter(|_| ring.gaps.is_empty());
    let shown2 = rough.map_or(f64::INFINITY, |rough| {
        SLOWER2 * rough.times_claimed().max(1.0).powi(2)
    });
    let noise = OF_NOISE * process.scale().powi(2).min(shown2) * ring.edge.noise_m;
    let noise = noise.min(ring.edge.perimeter_m);
    let gaps = |gap: &Gap| (gap.may_lengthen_m / 3f64.sqrt() / laps).powi(2);
    let gaps: f64 = ring.gaps.iter().map(gaps).sum();
    (receiver + hand * hand + noise * noise + gaps + ring.edge.drawing_sigma_m.powi(2)).sqrt()
}

/// A lettered corner: its name, place and sigma.
pub(super) struct Lettered {
    name: String,
    at: Coord<f64>,
    sigma_m: f64,
}

/// All corners, lawn after lawn, clockwise from the one nearest the start or named first.
pub(super) fn letters(survey: &Survey) -> Vec<Lettered> {
    let scale = survey.process.scale();
    survey
        .lawns
        .iter()
        .zip(corners::named(&survey.lawns))
        .flat_map(|(lawn, named)| {
            named.into_iter().map(move |(vertex, name)| Lettered {
                name,
                at: lawn.edge.vertices[vertex].at,
                sigma_m: lawn.edge.vertices[vertex].sigma_m * scale,
            })
        })
        .collect()
}

/// Latitude and longitude of a place, degrees; `None` for both on a plan's own metres.
pub(super) fn degrees(plane: &Plane, at: Coord<f64>) -> (Option<f64>, Option<f64>) {
    if plane.is_local() {
        return (None, None);
    }
    let (lat, lon) = plane.inverse(at);
    (Some(lat), Some(lon))
}

/// The points of the result: the lettered corners, then the centres of beds.
pub(super) fn points(survey: &Survey, letters: &[Lettered]) -> Vec<Point> {
    let point = |name: String, at: Coord<f64>, sigma_m: f64| {
        let (lat, lon) = degrees(&survey.plane, at);
        Point {
            name,
            lat,
            lon,
            x_m: at.x,
            y_m: at.y,
            sigma_m,
        }
    };
    let sigma_m = survey.lawns[0].track.sigma_m * survey.process.scale();
    letters
        .iter()
        .map(|l| point(l.name.clone(), l.at, l.sigma_m))
        .chain(
            survey
                .beds
                .iter()
                .map(|b| point(b.label.clone(), b.centre, sigma_m)),
        )
        .collect()
}
