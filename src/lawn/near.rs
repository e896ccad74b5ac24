//! What lies near a place: an R-tree, which is an index of boxes, so that a thousand beds are not each compared with a thousand others.

use geo::{Coord, Rect};
use rstar::primitives::{GeomWithData, Rectangle};
use rstar::{AABB, RTree};

type Item = GeomWithData<Rectangle<[f64; 2]>, usize>;

/// Boxes with a number each.
#[derive(Debug, Clone, Default)]
pub(super) struct Near(RTree<Item>);

fn corner(at: Coord<f64>) -> [f64; 2] {
    [at.x, at.y]
}

fn item(number: usize, low: Coord<f64>, high: Coord<f64>) -> Item {
    GeomWithData::new(Rectangle::from_corners(corner(low), corner(high)), number)
}

impl Near {
    /// Takes all boxes at once. What has no bounds is near nothing.
    pub(crate) fn of(all: impl IntoIterator<Item = (usize, Option<Rect<f64>>)>) -> Near {
        let items = all
            .into_iter()
            .filter_map(|(number, bounds)| bounds.map(|b| item(number, b.min(), b.max())));
        Near(RTree::bulk_load(items.collect()))
    }

    pub(crate) fn add(&mut self, number: usize, bounds: Rect<f64>) {
        self.0.insert(item(number, bounds.min(), bounds.max()));
    }

    pub(crate) fn remove(&mut self, number: usize, bounds: Rect<f64>) {
        self.0.remove(&item(number, bounds.min(), bounds.max()));
    }

    /// The numbers of the boxes that meet the box between two corners, in their order.
    pub(crate) fn within(&self, low: Coord<f64>, high: Coord<f64>) -> Vec<usize> {
        let asked = AABB::from_corners(corner(low), corner(high));
        let met = self.0.locate_in_envelope_intersecting(&asked);
        let mut numbers: Vec<usize> = met.map(|item| item.data).collect();
        crate::steps::count(numbers.len());
        numbers.sort_unstable();
        numbers
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn boxes_that_meet_are_near_and_no_others() {
        let square = |x: f64| Rect::new(Coord { x, y: 0.0 }, Coord { x: x + 1.0, y: 1.0 });
        let mut near = Near::of(
            (0..9)
                .map(|k| (k, Some(square(2.0 * k as f64))))
                .chain([(9, None)]),
        );
        let asked = |near: &Near| near.within(Coord { x: 3.0, y: 0.5 }, Coord { x: 6.5, y: 9.0 });
        assert_eq!(asked(&near), [1, 2, 3]);
        near.remove(2, square(4.0));
        near.add(20, square(5.5));
        assert_eq!(asked(&near), [1, 3, 20]);
    }
}
