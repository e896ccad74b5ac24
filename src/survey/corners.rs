//! The corners of the walked edges and what they are called: letters in the order of the walk, or the names that the job sheet gives
//! them. The file also moves single sides of the edge that were carried differently from the rest.

use super::walked::carried::move_edge;
use super::walked::{Fixed, Walked};
use crate::edge::{Edge, Vertex};
use crate::fault::Fault;
use crate::fix::DAY_S;
use crate::job::{Carry, Corner, Edge as OneSide, Place, Side};
use crate::limits::walk::CORNER_OFF_M;
use crate::notice::{NotFound, Notice};
use crate::plane::Plane;
use crate::refusal::Refusal;
use crate::ring::distance_m;
use crate::ring::foot;
use crate::units::letter;
use crate::walk::clean::Cleaned;
use crate::walk::{Spot, pauses, wander_m};
use geo::Coord;

/// The corners of each lawn, clockwise, each as its vertex and its name. Letters go on from lawn to lawn, and pass over names that the
/// sheet has given.
pub(crate) fn named(lawns: &[Walked]) -> Vec<Vec<(usize, String)>> {
    let given: Vec<&str> = lawns
        .iter()
        .flat_map(|l| &l.fixed)
        .map(|f| f.name.as_str())
        .collect();
    let mut letters = (0..)
        .map(letter)
        .filter(|letter| !given.iter().any(|name| name.eq_ignore_ascii_case(letter)));
    lawns
        .iter()
        .map(|lawn| {
            if !lawn.fixed.is_empty() {
                return clockwise(lawn);
            }
            lettered(&lawn.edge, lawn.start)
                .into_iter()
                .filter_map(|vertex| Some((vertex, letters.next()?)))
                .collect()
        })
        .collect()
}

/// The corners of one lawn, lettered as if it were alone.
fn of(lawn: &Walked) -> Vec<(usize, String)> {
    named(std::slice::from_ref(lawn)).pop().unwrap_or_default()
}

/// Indices of the corners, clockwise from the one nearest the start.
fn lettered(edge: &Edge, start: Coord<f64>) -> Vec<usize> {
    let mut corners: Vec<usize> = (0..edge.vertices.len())
        .filter(|&i| edge.vertices[i].corner)
        .collect();
    corners.reverse();
    let away = |i: usize| distance_m(edge.vertices[i].at, start);
    if let Some(nearest) =
        (0..corners.len()).min_by(|&a, &b| away(corners[a]).total_cmp(&away(corners[b])))
    {
        corners.rotate_left(nearest);
    }
    corners
}

/// The corners the sheet names, clockwise from the first it names.
fn clockwise(lawn: &Walked) -> Vec<(usize, String)> {
    let vertices = &lawn.edge.vertices;
    let mut found: Vec<(usize, String)> = Vec::new();
    for fixed in &lawn.fixed {
        let off_s = |i: usize| (vertices[i].t_s - fixed.t_s).abs();
        let nearest = (0..vertices.len())
            .filter(|&i| vertices[i].corner)
            .min_by(|&a, &b| off_s(a).total_cmp(&off_s(b)));
        if let Some(vertex) = nearest
            && !found.iter().any(|(v, _)| *v == vertex)
        {
            found.push((vertex, fixed.name.clone()));
        }
    }
    let first = found.first().map(|(vertex, _)| *vertex);
    found.sort_by_key(|(vertex, _)| std::cmp::Reverse(*vertex));
    if let Some(at) = found.iter().position(|(vertex, _)| Some(*vertex) == first) {
        found.rotate_left(at);
    }
    found
}

/// Takes the corners of the job sheet: on a lawn that has any, they are its only corners. Gives what is to be told, such as a corner that
/// cannot be placed.
#[must_use]
pub(crate) fn fix(corners: &[Corner], plane: &Plane, lawns: &mut [Walked]) -> Vec<Notice> {
    let mut told = Vec::new();
    for corner in corners {
        match place(corner, plane, lawns) {
            Ok((lawn, at, t_s)) => {
                let Some(walked) = lawns.get_mut(lawn) else {
                    continue;
                };
                if walked.fixed.is_empty() {
                    for vertex in &mut walked.edge.vertices {
                        vertex.corner = false;
                    }
                }
                set(walked, at, t_s, &corner.name);
            }
            Err(why) => told.push(Notice::CornerNotFound {
                name: corner.name.clone(),
                why,
            }),
        }
    }
    for walked in lawns.iter_mut().filter(|w| !w.fixed.is_empty()) {
        if !in_order(walked) {
            told.push(Notice::CornersOutOfOrder {
                walk: walked.course(),
            });
        }
        walked.edge.fill(walked.area_m2);
    }
    told
}

/// Whether the edge goes round its named corners in the order of their times, if all were passed on one lap. True where fewer than four
/// have times.
fn in_order(walked: &Walked) -> bool {
    let vertices = &walked.edge.vertices;
    let mut passed: Vec<(f64, usize)> = walked
        .fixed
        .iter()
        .filter_map(|fixed| {
            let vertex = vertices
                .iter()
                .position(|v| v.corner && v.t_s == fixed.t_s)?;
            Some((fixed.t_s, vertex))
        })
        .collect();
    passed.sort_by(|a, b| a.0.total_cmp(&b.0));
    let laps = f64::from(walked.laps.max(1));
    let lap_s = walked.lasted_s();
    let all_s = passed.last().map_or(0.0, |l| l.0) - passed.first().map_or(0.0, |f| f.0);
    if passed.len() < 4 || all_s > lap_s / laps {
        return true;
    }
    let falls = (0..passed.len())
        .filter(|&i| passed[(i + 1) % passed.len()].1 < passed[i].1)
        .count();
    falls <= 1 || falls + 1 >= passed.len()
}

/// Which lawn's edge a corner is on, where on the plane, and when the walk passed it (where that is known); or why it has no
/// place.
fn place(
    corner: &Corner,
    plane: &Plane,
    lawns: &[Walked],
) -> Result<(usize, Coord<f64>, Option<f64>), NotFound> {
    match corner.place {
        Place::At { lat_deg, lon_deg } => {
            let at = plane.forward(lat_deg, lon_deg);
            let away_m = |walked: &Walked| distance_m(nearest(&walked.edge, at).1, at);
            let lawn = (0..lawns.len())
                .min_by(|&a, &b| away_m(&lawns[a]).total_cmp(&away_m(&lawns[b])))
                .ok_or(NotFound::NoEdge)?;
            let far_m = away_m(&lawns[lawn]);
            if far_m > CORNER_OFF_M + 3.0 * lawns[lawn].track.sigma_m {
                return Err(NotFound::FarFromEdgeM(far_m));
            }
            Ok((lawn, at, None))
        }
        Place::Time { tod_s } => {
            for (k, walked) in lawns.iter().enumerate() {
                // The way in is searched as well, as a surveyor may stand at the first corner before the lap begins.
                let line = &walked.spots;
                if let Some(nearest) = passed_at(line, tod_s) {
                    return Ok((k, stood(line, nearest), Some(line[nearest].t_s)));
                }
            }
            Err(NotFound::NoFixThen)
        }
        Place::Pause(number) => {
            let mut found: Vec<(f64, usize, Coord<f64>)> = Vec::new();
            for (k, walked) in lawns.iter().enumerate() {
                let line = walked.line();
                for pause in pauses::find(&line, walked.track.pace_m_s) {
                    let t_s = 0.5 * (line[pause.first].t_s + line[pause.last].t_s);
                    found.push((t_s, k, pause.at));
                }
            }
            found.sort_by(|a, b| a.0.total_cmp(&b.0));
            usize::try_from(number)
                .ok()
                .and_then(|n| found.get(n.checked_sub(1)?))
                .map(|&(t_s, k, at)| (k, at, Some(t_s)))
                .ok_or(NotFound::Standstills {
                    found: found.len(),
                    asked: number.into(),
                })
        }
    }
}

/// The index of the spot nearest to a time of day (seconds after midnight UTC); `None` where none is within two seconds.
pub(super) fn passed_at(line: &[Spot], tod_s: f64) -> Option<usize> {
    let off_s = |spot: &Spot| {
        let off = (spot.t_s - tod_s).rem_euclid(DAY_S);
        off.min(DAY_S - off)
    };
    (0..line.len())
        .min_by(|&a, &b| off_s(&line[a]).total_cmp(&off_s(&line[b])))
        .filter(|&i| off_s(&line[i]) <= 2.0)
}

/// Where a walk stood at a corner, whether or not the walk comes round; `None` where it did not pass it.
pub(super) fn stood_at(corner: &Corner, plane: &Plane, walk: &Cleaned) -> Option<Spot> {
    let line = &walk.spots;
    match corner.place {
        Place::At { lat_deg, lon_deg } => {
            let at = plane.forward(lat_deg, lon_deg);
            let nearest = line
                .iter()
                .min_by(|a, b| distance_m(a.at, at).total_cmp(&distance_m(b.at, at)))?;
            let far_m = CORNER_OFF_M + 3.0 * nearest.sigma();
            (distance_m(nearest.at, at) <= far_m).then_some(*nearest)
        }
        Place::Time { tod_s } => passed_at(line, tod_s).map(|i| Spot {
            at: stood(line, i),
            ..line[i]
        }),
        Place::Pause(number) => {
            let pauses = pauses::find(line, walk.pace_m_s);
            let pause = pauses.get(usize::try_from(number).ok()?.checked_sub(1)?)?;
            Some(Spot {
                at: pause.at,
                t_s: 0.5 * (line[pause.first].t_s + line[pause.last].t_s),
                ..line[pause.first]
            })
        }
    }
}

/// The mean of the fixes of the standstill about one spot: its neighbours in time that stay near it.
pub(super) fn stood(line: &[Spot], at: usize) -> Coord<f64> {
    let here = line[at];
    let near_m = 0.25 + 2.0 * wander_m(here.sigma(), 3.0);
    let near = |spot: &Spot| distance_m(spot.at, here.at) < near_m;
    let before = line[..at].iter().rev().take_while(|s| near(s)).count();
    let after = line[at..].iter().take_while(|s| near(s)).count();
    let stood = &line[at - before..at + after];
    let sum = stood
        .iter()
        .fold(Coord { x: 0.0, y: 0.0 }, |sum, s| sum + (s.at - here.at));
    here.at + sum / stood.len().max(1) as f64
}

/// The span of an edge nearest a place, and the place on it.
fn nearest(edge: &Edge, at: Coord<f64>) -> (usize, Coord<f64>) {
    nearest_of(edge, at, |_| true).unwrap_or((0, at))
}

/// The nearest among the spans for which `among` holds; `None` where there is none.
fn nearest_of(
    edge: &Edge,
    at: Coord<f64>,
    among: impl Fn(usize) -> bool,
) -> Option<(usize, Coord<f64>)> {
    let n = edge.vertices.len();
    (0..n)
        .filter(|&i| among(i))
        .map(|i| {
            (
                i,
                foot(at, edge.vertices[i].at, edge.vertices[(i + 1) % n].at),
            )
        })
        .min_by(|a, b| distance_m(a.1, at).total_cmp(&distance_m(b.1, at)))
}

/// How far in time, seconds, the edge's vertices may be from the moment at which a corner was passed: the edge is drawn through averages
/// over some seconds.
const NEAR_S: f64 = 12.0;

/// The span nearest to a place among those that the walk passed about a time on its first lap: on a poor walk another part of the edge
/// may lie nearer. A corner that was stood at before the lap, or after it, was passed about a lap later or earlier. Where no span fits
/// the time, all are looked at.
fn nearest_in_time(edge: &Edge, at: Coord<f64>, t_s: Option<f64>) -> (usize, Coord<f64>) {
    // Laps of one walker are equally long in time to within this part.
    const UNEVEN: f64 = 0.15;
    let n = edge.vertices.len();
    let (first_s, last_s) = edge
        .vertices
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| {
            (low.min(v.t_s), high.max(v.t_s))
        });
    let lap_s = last_s - first_s;
    let passed = |i: usize| {
        let (a_s, b_s) = (edge.vertices[i].t_s, edge.vertices[(i + 1) % n].t_s);
        // The span across the closing goes from the end of the lap to its start.
        let (from_s, to_s) = if i + 1 == n {
            (a_s, a_s)
        } else {
            (a_s.min(b_s), a_s.max(b_s))
        };
        let about = |t_s: f64, near_s: f64| t_s > from_s - near_s && t_s < to_s + near_s;
        t_s.is_some_and(|t_s| {
            let again_s = if t_s < first_s {
                t_s + lap_s
            } else if t_s > last_s {
                t_s - lap_s
            } else {
                return about(t_s, NEAR_S);
            };
            about(t_s, NEAR_S) || about(again_s, NEAR_S + UNEVEN * lap_s)
        })
    };
    nearest_of(edge, at, passed).unwrap_or_else(|| nearest(edge, at))
}

/// A vertex this near to a named corner is taken for it, metres.
const SAME_M: f64 = 0.3;

/// Puts a new vertex on a span of the edge, with the time at which the walk came by, and gives its index.
fn insert(vertices: &mut Vec<Vertex>, span: usize, on_edge: Coord<f64>) -> usize {
    let (from, to) = (vertices[span], vertices[(span + 1) % vertices.len()]);
    let way_m = distance_m(from.at, to.at);
    let part = if way_m > 0.0 {
        distance_m(from.at, on_edge) / way_m
    } else {
        0.5
    };
    // From the end of the lap to its start the clock does not run on.
    let (low_s, high_s) = vertices
        .iter()
        .fold((from.t_s, from.t_s), |(low, high), v| {
            (low.min(v.t_s), high.max(v.t_s))
        });
    let step_s = to.t_s - from.t_s;
    let between_s = if step_s.abs() > 0.5 * (high_s - low_s) {
        from.t_s + 1e-3
    } else {
        from.t_s + part * step_s
    };
    vertices.insert(
        span + 1,
        Vertex {
            at: on_edge,
            corner: false,
            t_s: between_s,
            sigma_m: from.sigma_m,
        },
    );
    span + 1
}

/// Makes a named corner of the edge: of the vertex there, or of a new one. If the antenna was not carried beside the edge and there is
/// one lap, the corner is put where the antenna stood.
fn set(walked: &mut Walked, at: Coord<f64>, t_s: Option<f64>, name: &str) {
    let (span, on_edge) = nearest_in_time(&walked.edge, at, t_s);
    let vertices = &mut walked.edge.vertices;
    let n = vertices.len();
    if n == 0 {
        return;
    }
    let next = (span + 1) % n;
    let near = [span, next]
        .into_iter()
        .filter(|&i| !vertices[i].corner && distance_m(vertices[i].at, on_edge) < SAME_M)
        .min_by(|&a, &b| {
            distance_m(vertices[a].at, on_edge).total_cmp(&distance_m(vertices[b].at, on_edge))
        });
    let vertex = match near {
        Some(vertex) => vertex,
        None => insert(vertices, span, on_edge),
    };
    let corner = &mut vertices[vertex];
    corner.corner = true;
    if let Some(t_s) = t_s {
        corner.t_s = t_s;
        // With several laps the edge is their mean already, and one standstill is no better.
        if walked.carried_m2 == 0.0 && walked.laps == 1 {
            corner.at = at;
        }
    }
    walked.fixed.push(Fixed {
        name: name.to_owned(),
        t_s: corner.t_s,
    });
}

/// Moves single sides that were carried at another distance than the rest: those between two lettered corners, clockwise or counter-
/// clockwise, whichever way is the shorter. The rest of the edge was already moved.
///
/// # Errors
/// Of kind `Usage`: a corner of that letter does not exist; `Withheld`: nothing is left.
pub(crate) fn carry_sides(ring: &mut Walked, sides: &[OneSide], whole: Carry) -> Result<(), Fault> {
    let signed = |carry: Carry| match carry.side.or(whole.side).unwrap_or(Side::Inside) {
        Side::Inside => carry.offset_m.unwrap_or(0.0),
        Side::Outside => -carry.offset_m.unwrap_or(0.0),
    };
    let vertices = &ring.edge.vertices;
    let n = vertices.len();
    let corners = of(ring);
    let find = |wanted: &str| {
        let at = corners
            .iter()
            .find(|(_, name)| name.eq_ignore_ascii_case(wanted))
            .map(|(vertex, _)| *vertex);
        at.ok_or_else(|| {
            let names: Vec<&str> = corners.iter().map(|(_, name)| name.as_str()).collect();
            Fault::usage(
                "no-such-corner",
                format!(
                    "[[edge]] names the corner “{wanted}”, but the corners found are: {}.",
                    names.join(", ")
                ),
                "Measure once without [[edge]] and take the letters from the sheet's list of corners.",
            )
        })
    };
    let mut outward_m = vec![0.0; n];
    for side in sides {
        let (from, to) = (find(&side.from)?, find(&side.to)?);
        let moved_m = signed(side.carry) - signed(whole);
        let span = |a: usize, b: usize| (a..a + (b + n - a) % n).map(|i| i % n).collect::<Vec<_>>();
        let way_m = |spans: &[usize]| {
            spans
                .iter()
                .map(|&i| distance_m(vertices[i].at, vertices[(i + 1) % n].at))
                .sum::<f64>()
        };
        let (one, other) = (span(from, to), span(to, from));
        for i in if way_m(&one) <= way_m(&other) {
            one
        } else {
            other
        } {
            outward_m[i] = moved_m;
        }
    }
    let area_m2 = move_edge(&mut ring.edge, &outward_m);
    if area_m2 <= 0.0 {
        return Err(Refusal::SidesCollapse {}.into());
    }
    let added_m2 = area_m2 - ring.area_m2;
    ring.carried_m2 += added_m2;
    ring.area_m2 = area_m2;
    Ok(())
}
