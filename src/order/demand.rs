//! What each row of turf must cover. The lawn is turned so that the rows run along x, and cut into bands that are one piece
//! wide. A row must reach wherever there is lawn anywhere in its width; what is trimmed off at its sides cannot be used again.
//! The result is a list of demands: stretches along x, row by row.

use geo::{Coord, MultiPolygon};

/// Slivers of lawn thinner than this at a row's edge, and gaps shorter than this within a row, are rounding,
/// not lawn: a rectangle exactly twenty rows wide must not need a twenty-first. Metres.
const TOUCH_M: f64 = 1e-6;

/// A stretch of one row with lawn somewhere in its width at every point along it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Demand {
    /// Band, from 0 at the lowest y.
    pub row: u32,
    /// Where it begins and ends along the row, metres in the turned lawn.
    pub start_m: f64,
    pub end_m: f64,
    /// How much of the row's width the lawn reaches over, metres. Below a third of a piece's width the stretch is a sliver.
    pub reach_m: f64,
}

impl Demand {
    pub(crate) fn length_m(&self) -> f64 {
        self.end_m - self.start_m
    }
}

/// A lawn's edges, turned so that rows run along x.
#[derive(Debug, Clone)]
pub struct Turned {
    /// Each edge as its two ends, the one with the lower y first.
    edges: Vec<[Coord<f64>; 2]>,
    /// Lowest and highest y.
    pub low_m: f64,
    pub high_m: f64,
    /// The y of every place where the edge turns from rising to falling or back, and of every edge that runs along the rows. A row
    /// that begins or ends there often wastes least, so these are places to try.
    pub turning_m: Vec<f64>,
    sin: f64,
    cos: f64,
}

impl Turned {
    /// Turns `lawn` by `-angle_rad`, so that what ran at `angle_rad` (anticlockwise from east) runs along x.
    /// Points that are not finite are left out.
    #[must_use]
    pub fn new(lawn: &MultiPolygon<f64>, angle_rad: f64) -> Turned {
        let (sin, cos) = angle_rad.sin_cos();
        let mut turned = Turned {
            edges: Vec::new(),
            low_m: f64::INFINITY,
            high_m: f64::NEG_INFINITY,
            turning_m: Vec::new(),
            sin,
            cos,
        };
        for polygon in lawn {
            for ring in std::iter::once(polygon.exterior()).chain(polygon.interiors()) {
                let points: Vec<Coord<f64>> = ring
                    .coords()
                    .filter(|c| c.x.is_finite() && c.y.is_finite())
                    .map(|c| turned.there(*c))
                    .collect();
                turned.take_ring(&points);
            }
        }
        turned
    }

    /// Takes in one closed ring of turned points: its edges, its lowest and highest y, and where it turns.
    fn take_ring(&mut self, points: &[Coord<f64>]) {
        let mut rising: Option<bool> = None;
        let mut first_rising: Option<bool> = None;
        for pair in points.windows(2) {
            let [from, to] = [pair[0], pair[1]];
            self.low_m = self.low_m.min(from.y).min(to.y);
            self.high_m = self.high_m.max(from.y).max(to.y);
            self.edges.push(if from.y <= to.y {
                [from, to]
            } else {
                [to, from]
            });
            let rise = to.y - from.y;
            if rise.abs() <= TOUCH_M {
                // An edge along the rows counts only where it is longer than 20 cm.
                if (to.x - from.x).abs() > 0.2 {
                    self.turning_m.push(from.y);
                }
                continue;
            }
            let up = rise > 0.0;
            if rising.is_some_and(|before| before != up) {
                self.turning_m.push(from.y);
            }
            first_rising.get_or_insert(up);
            rising = Some(up);
        }
        // The ring is closed: it may also turn at its first point, from its last edge to its first.
        if let (Some(first), Some(last), Some(point)) = (first_rising, rising, points.first())
            && first != last
        {
            self.turning_m.push(point.y);
        }
    }

    /// Whether there is no lawn, or one without any height to speak of.
    pub(crate) fn is_empty(&self) -> bool {
        self.edges.is_empty() || self.high_m - self.low_m <= TOUCH_M
    }

    /// A place on the plane as a place in the turned lawn.
    fn there(&self, at: Coord<f64>) -> Coord<f64> {
        Coord {
            x: at.x * self.cos + at.y * self.sin,
            y: at.y * self.cos - at.x * self.sin,
        }
    }

    /// A place in the turned lawn as a place on the plane.
    #[must_use]
    pub fn back(&self, at: Coord<f64>) -> Coord<f64> {
        Coord {
            x: at.x * self.cos - at.y * self.sin,
            y: at.y * self.cos + at.x * self.sin,
        }
    }
}

/// Room for the work of [`Bands::demands`], kept between calls so that a search allocates little.
#[derive(Debug, Default)]
pub struct Bands {
    /// Per band: stretches along x with the lowest and highest y seen in each.
    spans: Vec<Vec<Span>>,
    /// Per band: where edges cross its lower side.
    crossings: Vec<Vec<f64>>,
}

/// A stretch of a band along x, `from` to `to`, and the lowest and highest y of the lawn's edge seen in it. All in metres.
#[derive(Debug, Clone, Copy)]
struct Span {
    from: f64,
    to: f64,
    low: f64,
    high: f64,
}

impl Bands {
    /// The demands of rows `width_m` wide, the first of which begins at y = `first_m`, in the order of rows and,
    /// within a row, of x.
    ///
    /// A point x of a row is wanted where the line across the row at x meets the lawn. Such a line either meets
    /// the lawn's edge, or lies wholly inside; so the demands are the stretches the edges take up inside the
    /// band, together with the inside of the lawn along the band's lower side.
    pub fn demands(&mut self, lawn: &Turned, width_m: f64, first_m: f64, into: &mut Vec<Demand>) {
        into.clear();
        if lawn.is_empty() {
            return;
        }
        let count =
            (((lawn.high_m - first_m) / width_m).ceil().max(0.0) as usize).saturating_add(1);
        self.clear(count);
        for edge in &lawn.edges {
            self.take_edge(edge, width_m, first_m, count - 1);
        }
        for band in 0..count {
            self.take_insides(band);
            into.extend(self.spans_joined(band).filter_map(|span| span.demand(band)));
        }
    }

    /// Empties the lists, and sees to it that there are at least `count` of each.
    fn clear(&mut self, count: usize) {
        self.spans.iter_mut().for_each(Vec::clear);
        self.crossings.iter_mut().for_each(Vec::clear);
        if self.spans.len() < count {
            self.spans.resize_with(count, Vec::new);
            self.crossings.resize_with(count, Vec::new);
        }
    }

    /// Notes what one edge, lower end first, takes up of every band it reaches, and where it crosses the bands' lower sides. Bands
    /// are taken narrower by [`TOUCH_M`] at both sides, so that an edge that only touches one does not count.
    fn take_edge(
        &mut self,
        [low, high]: &[Coord<f64>; 2],
        width_m: f64,
        first_m: f64,
        last_band: usize,
    ) {
        let from = ((low.y - first_m) / width_m).floor().max(0.0) as usize;
        let to = (((high.y - first_m) / width_m).floor().max(0.0) as usize).min(last_band);
        let run = high.x - low.x;
        let rise = high.y - low.y;
        for band in from..=to {
            let bottom = first_m + band as f64 * width_m + TOUCH_M;
            let top = first_m + (band + 1) as f64 * width_m - TOUCH_M;
            let (below, above) = (low.y.max(bottom), high.y.min(top));
            if below > above {
                continue;
            }
            // The x of this edge at a height y.
            let at = |y: f64| {
                if rise > 0.0 {
                    low.x + run * ((y - low.y) / rise)
                } else {
                    low.x
                }
            };
            let (mut a, mut b) = (at(below), if rise > 0.0 { at(above) } else { high.x });
            if low.y <= bottom && bottom < high.y {
                self.crossings[band].push(a);
            }
            if a > b {
                std::mem::swap(&mut a, &mut b);
            }
            self.spans[band].push(Span {
                from: a,
                to: b,
                low: below,
                high: above,
            });
        }
    }

    /// Adds the inside of the lawn along the band's lower side. Along a line one is in the lawn from the first crossing to
    /// the second, from the third to the fourth, and so on. Such a stretch has no edge in it and so no lowest and highest y.
    fn take_insides(&mut self, band: usize) {
        let crossings = &mut self.crossings[band];
        crossings.sort_unstable_by(f64::total_cmp);
        let insides = crossings.chunks_exact(2).map(|pair| Span {
            from: pair[0],
            to: pair[1],
            low: f64::INFINITY,
            high: f64::NEG_INFINITY,
        });
        self.spans[band].extend(insides);
    }

    /// The stretches of a band along x, those that overlap or touch made one.
    fn spans_joined(&mut self, band: usize) -> impl Iterator<Item = Span> {
        let spans = &mut self.spans[band];
        spans.sort_unstable_by(|a, b| a.from.total_cmp(&b.from));
        let mut rest = spans.iter().copied().peekable();
        std::iter::from_fn(move || {
            let mut joined = rest.next()?;
            while let Some(span) = rest.next_if(|span| span.from <= joined.to + TOUCH_M) {
                joined = Span {
                    from: joined.from,
                    to: joined.to.max(span.to),
                    low: joined.low.min(span.low),
                    high: joined.high.max(span.high),
                };
            }
            Some(joined)
        })
    }
}

impl Span {
    /// The demand of this stretch in row number `band`; `None` where it is too short to be more than a touch.
    fn demand(self, band: usize) -> Option<Demand> {
        (self.to - self.from > TOUCH_M).then_some(Demand {
            row: band as u32,
            start_m: self.from,
            end_m: self.to,
            reach_m: self.high - self.low,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;
    use geo::{MultiPolygon, polygon};

    fn demands(lawn: MultiPolygon<f64>, angle_rad: f64, width_m: f64) -> Vec<Demand> {
        let turned = Turned::new(&lawn, angle_rad);
        let mut into = Vec::new();
        Bands::default().demands(&turned, width_m, turned.low_m, &mut into);
        into
    }

    #[test]
    fn a_rectangle_exactly_twenty_rows_wide_has_twenty_rows() {
        let lawn = MultiPolygon(vec![
            polygon![(x: 0., y: 0.), (x: 10., y: 0.), (x: 10., y: 8.), (x: 0., y: 8.)],
        ]);
        for angle in [0.0, std::f64::consts::PI] {
            let rows = demands(lawn.clone(), angle, 0.4);
            assert_eq!(rows.len(), 20);
            for row in &rows {
                assert_abs_diff_eq!(row.length_m(), 10.0, epsilon = 1e-9);
                assert_abs_diff_eq!(row.reach_m, 0.4, epsilon = 1e-5);
            }
        }
    }

    /// Of a triangle, each row wants the extent at its wider side.
    #[test]
    fn a_row_wants_the_whole_extent_within_its_width() {
        let lawn = MultiPolygon(vec![
            polygon![(x: 0., y: 0.), (x: 10., y: 0.), (x: 5., y: 6.)],
        ]);
        let rows = demands(lawn, 0.0, 0.5);
        assert_eq!(rows.len(), 12);
        for (k, row) in rows.iter().enumerate() {
            assert_abs_diff_eq!(
                row.length_m(),
                10.0 * (1.0 - k as f64 / 12.0),
                epsilon = 1e-5
            );
        }
    }

    #[test]
    fn a_hole_splits_a_row_only_where_it_spans_it() {
        let lawn = MultiPolygon(vec![geo::Polygon::new(
            polygon![(x: 0., y: 0.), (x: 6., y: 0.), (x: 6., y: 3.), (x: 0., y: 3.)]
                .exterior()
                .clone(),
            vec![
                polygon![(x: 2., y: 0.5), (x: 2., y: 2.2), (x: 3., y: 2.2), (x: 3., y: 0.5)]
                    .exterior()
                    .clone(),
            ],
        )]);
        let rows = demands(lawn, 0.0, 1.0);
        assert_eq!(rows.len(), 4);
        let of_row = |n| rows.iter().filter(move |d| d.row == n).collect::<Vec<_>>();
        assert_eq!(
            (of_row(0).len(), of_row(1).len(), of_row(2).len()),
            (1, 2, 1)
        );
        assert_abs_diff_eq!(of_row(1)[0].end_m, 2.0, epsilon = 1e-9);
        assert_abs_diff_eq!(of_row(1)[1].start_m, 3.0, epsilon = 1e-9);
    }

    #[test]
    fn points_that_are_no_numbers_are_left_out() {
        let lawn = MultiPolygon(vec![polygon![
            (x: 0., y: 0.), (x: f64::NAN, y: 1.), (x: 10., y: 0.), (x: 10., y: 8.), (x: 0., y: 8.)
        ]]);
        assert_eq!(demands(lawn, 0.0, 0.4).len(), 20);
        assert!(demands(MultiPolygon(vec![]), 0.0, 0.4).is_empty());
    }
}
