//! What changed between two recorded surveys, mostly of one garden: the difference in area set against both bands, how far the outlines
//! cover each other, and which settings, logs, amounts taken off and lines of the order are not the same.

use super::Records;
use super::look::{Record, Table, number, text};
use crate::fault::Fault;
use crate::plane::Plane;
use geo::{Area, BooleanOps, Centroid, Distance, Euclidean};
use serde::Serialize;
use serde_json::Value;

/// What the difference of two areas says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Verdict {
    /// The difference is within what both bands together allow.
    WithinBands,
    /// The difference is more: the ground, the walk or the settings are not the same.
    BeyondBands,
    /// One of them has no area.
    NotComparable,
}

/// The difference of two net areas, square metres.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[non_exhaustive]
pub struct Difference {
    /// The second area less the first.
    pub difference_m2: f64,
    /// The same as a percentage of the first.
    pub difference_percent: f64,
    /// What two independent measurings may differ by at the confidence of their bands: the root of the sum of both bands' squares.
    pub allowed_m2: f64,
}

/// The outlines laid over each other, square metres on the ground.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[non_exhaustive]
pub struct Overlap {
    /// Area covered by both.
    pub both_m2: f64,
    /// Area covered by the first alone.
    pub only_first_m2: f64,
    /// Area covered by the second alone.
    pub only_second_m2: f64,
    /// What both cover, as percent of what either covers: 100 where the outlines are the same.
    pub percent: f64,
    /// Distance from the middle of the first to that of the second, metres.
    pub apart_m: f64,
}

/// A setting that is not the same in both.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[non_exhaustive]
pub struct Changed {
    /// Its key.
    pub name: String,
    /// Its value in the first; `None` where it was not set.
    pub first: Option<String>,
    /// Its value in the second.
    pub second: Option<String>,
}

/// An amount (of something taken off, or ordered) that is not the same in both.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Moved {
    /// What there is so much of: the label of what was taken off, or what was ordered.
    pub name: String,
    /// The unit of the amount: "m2", "piece", "t" and so on, or the currency of a price.
    pub unit: String,
    /// How much of it the first has; `None` where it has none.
    pub first: Option<f64>,
    /// How much of it the second has; `None` where it has none.
    pub second: Option<f64>,
}

/// Two records compared.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[non_exhaustive]
pub struct Comparison {
    /// The record named first.
    pub first: Record,
    /// The record named second.
    pub second: Record,
    /// What the two say of the ground.
    pub verdict: Verdict,
    /// How the net areas differ, where both have one.
    pub area: Option<Difference>,
    /// How the outlines lie on each other, where both have one.
    pub overlap: Option<Overlap>,
    /// What was taken off the lawn where it differs by more than a hundredth of a square metre.
    pub taken_off: Vec<Moved>,
    /// What was ordered where it differs, and the price of everything.
    pub order: Vec<Moved>,
    /// The settings that differ.
    pub settings: Vec<Changed>,
    /// Logs that only the first was measured from, by name and the first twelve figures of their SHA-256.
    pub logs_only_first: Vec<String>,
    /// Logs that only the second was measured from.
    pub logs_only_second: Vec<String>,
    /// Whether both were measured from at least one log in common. Their errors are then mostly the same, and bands that
    /// allow for two independent walks are too wide a yardstick.
    pub share_a_log: bool,
}

/// An amount: what there is so much of, in which unit, and how much.
type Amount = (String, String, f64);

/// Each thing once in each unit, with all that there is of it: two beds may have one name.
fn summed(all: Vec<Amount>) -> Vec<Amount> {
    let mut sums: Vec<Amount> = Vec::new();
    for (name, unit, amount) in all {
        match sums.iter_mut().find(|(n, u, _)| *n == name && *u == unit) {
            Some((.., sum)) => *sum += amount,
            None => sums.push((name, unit, amount)),
        }
    }
    sums
}

/// The amounts that differ by more than `by` between the first record and the second, or that only one of them has: those of the first
/// in their order, and then those that only the second has.
fn moved(before: Vec<Amount>, after: Vec<Amount>, by: f64) -> Vec<Moved> {
    let (before, after) = (summed(before), summed(after));
    let value = |all: &[Amount], name: &str, unit: &str| {
        let found = all.iter().find(|(n, u, _)| n == name && u == unit);
        found.map(|(.., amount)| *amount)
    };
    let only_after = after
        .iter()
        .filter(|(name, unit, _)| value(&before, name, unit).is_none());
    let each = before.iter().chain(only_after);
    each.map(|(name, unit, _)| Moved {
        name: name.clone(),
        unit: unit.clone(),
        first: value(&before, name, unit),
        second: value(&after, name, unit),
    })
    .filter(|one| match (one.first, one.second) {
        (Some(first), Some(second)) => (first - second).abs() > by,
        _ => true,
    })
    .collect()
}

impl Records {
    /// Compares two records.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn compare(&self, first: Record, second: Record) -> Result<Comparison, Fault> {
        let area = match (first.net_m2, first.band_m2, second.net_m2, second.band_m2) {
            (Some(net), Some(band), Some(other_net), Some(other_band)) => Some(Difference {
                difference_m2: other_net - net,
                difference_percent: 100.0 * (other_net - net) / net.max(f64::MIN_POSITIVE),
                allowed_m2: band.hypot(other_band),
            }),
            _ => None,
        };
        let verdict = match &area {
            Some(d) if d.difference_m2.abs() <= d.allowed_m2 => Verdict::WithinBands,
            Some(_) => Verdict::BeyondBands,
            None => Verdict::NotComparable,
        };
        let overlap = self.overlap(&first, &second)?;
        let settings = self.changed(first.id, second.id)?;
        let taken_off = moved(self.taken_off(&first)?, self.taken_off(&second)?, 0.01);
        let order = moved(self.ordered(&first)?, self.ordered(&second)?, 0.0);
        let (before, after) = (self.logs(first.id)?, self.logs(second.id)?);
        let only = |these: &[(String, String)], those: &[(String, String)]| -> Vec<String> {
            these
                .iter()
                .filter(|(_, hash)| those.iter().all(|(_, other)| other != hash))
                .map(|(name, hash)| format!("{name} {}", hash.get(..12).unwrap_or(hash)))
                .collect()
        };
        Ok(Comparison {
            verdict,
            area,
            overlap,
            taken_off,
            order,
            settings,
            logs_only_first: only(&before, &after),
            logs_only_second: only(&after, &before),
            share_a_log: before
                .iter()
                .any(|(_, hash)| after.iter().any(|(_, other)| other == hash)),
            first,
            second,
        })
    }

    /// Lays both outlines on one plane at the first one's site; `None` where one of them has no outline.
    fn overlap(&self, first: &Record, second: &Record) -> Result<Option<Overlap>, Fault> {
        let (Some(lat), Some(lon)) = (first.lat, first.lon) else {
            return Ok(None);
        };
        let height_m = self
            .document(first)?
            .ok()
            .and_then(|(_, document)| document.pointer("/plane/height_m")?.as_f64())
            .unwrap_or(0.0);
        let plane = Plane::new(lat, lon, height_m)?;
        let (one, other) = (self.lawn(first.id, &plane)?, self.lawn(second.id, &plane)?);
        let (Some(middle), Some(other_middle)) = (one.centroid(), other.centroid()) else {
            return Ok(None);
        };
        let apart_m = Euclidean.distance(middle, other_middle);
        // Further away than this the plane is no longer true to scale; and no lawn reaches so far, so nothing can overlap.
        const SAME_SITE_M: f64 = 100_000.0;
        let both_m2 = if apart_m < SAME_SITE_M {
            one.intersection(&other).unsigned_area()
        } else {
            0.0
        };
        let (one_m2, other_m2) = (one.unsigned_area(), other.unsigned_area());
        let either_m2 = one_m2 + other_m2 - both_m2;
        Ok(Some(Overlap {
            both_m2,
            only_first_m2: (one_m2 - both_m2).max(0.0),
            only_second_m2: (other_m2 - both_m2).max(0.0),
            percent: if either_m2 > 0.0 {
                100.0 * both_m2 / either_m2
            } else {
                0.0
            },
            apart_m,
        }))
    }

    /// What was taken off, by its label.
    fn taken_off(&self, of: &Record) -> Result<Vec<Amount>, Fault> {
        let rows = self.rows(Table::Deductions, of.id)?;
        let each = rows.iter().map(|row| {
            let label = text(row, "label").to_owned();
            (label, "m2".to_owned(), number(row, "deducted_m2"))
        });
        Ok(each.collect())
    }

    /// What was ordered, line by line, and what the customer was to pay, as far as its document can be read.
    fn ordered(&self, of: &Record) -> Result<Vec<Amount>, Fault> {
        let rows = self.rows(Table::Orders, of.id)?;
        let line = |row: &Value| {
            (
                text(row, "item").to_owned(),
                text(row, "unit").to_owned(),
                number(row, "quantity"),
            )
        };
        let mut all: Vec<Amount> = rows.iter().map(line).collect();
        if let Ok((_, document)) = self.document(of)?
            && let Some(price) = document.pointer("/order/price")
            && let Ok(total) = text(price, "total").parse()
        {
            all.push((
                "price".to_owned(),
                text(price, "currency").to_owned(),
                total,
            ));
        }
        Ok(all)
    }

    /// The settings that are not the same in both.
    fn changed(&self, first: i64, second: i64) -> Result<Vec<Changed>, Fault> {
        let read = |id: i64| -> Result<Vec<(String, String)>, Fault> {
            Ok(self
                .rows(Table::Settings, id)?
                .iter()
                .map(|row| (text(row, "name").to_owned(), text(row, "value").to_owned()))
                .collect())
        };
        let (before, after) = (read(first)?, read(second)?);
        let value = |all: &[(String, String)], name: &str| {
            all.iter().find(|(n, _)| n == name).map(|(_, v)| v.clone())
        };
        let mut changed: Vec<Changed> = Vec::new();
        for (name, _) in before.iter().chain(&after) {
            let (was, is) = (value(&before, name), value(&after, name));
            if was != is && changed.iter().all(|c| &c.name != name) {
                changed.push(Changed {
                    name: name.clone(),
                    first: was,
                    second: is,
                });
            }
        }
        Ok(changed)
    }

    /// The logs of a record: name and SHA-256 of each.
    fn logs(&self, id: i64) -> Result<Vec<(String, String)>, Fault> {
        Ok(self
            .rows(Table::LogFiles, id)?
            .iter()
            .map(|row| (text(row, "name").to_owned(), text(row, "sha256").to_owned()))
            .collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_things_of_one_name_are_compared_together() {
        let bed = |m2: f64| ("bed".to_owned(), "m2".to_owned(), m2);
        assert_eq!(moved(vec![bed(3.0), bed(1.0)], vec![bed(4.0)], 0.01), []);
        let found = moved(vec![bed(3.0), bed(1.0)], vec![bed(4.0), bed(2.0)], 0.01);
        assert_eq!(found.len(), 1);
        assert_eq!((found[0].first, found[0].second), (Some(4.0), Some(6.0)));
    }
}
