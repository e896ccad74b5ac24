//! Quantities from a measured lawn: turf row by row, soil, edging, and what they weigh and cost. It gets the net area with its
//! standard error, the outlines and the job sheet's settings, and gives an [`Ordered`].
//!
//! More is ordered than the net area for two reasons, which are kept apart all through: what is lost in cutting, which comes
//! from laying the rows out, and an allowance in case the lawn is larger than measured, which comes from the area's band.

mod cautions;
pub mod chance;
pub mod crew;
pub mod demand;
pub mod edging;
mod joints;
pub mod pack;
pub mod perimeter;
pub mod price;
pub mod rows;
pub mod rule;
pub mod search;
pub mod slope;
pub mod soil;
pub mod takeoff;
pub mod turf;

use crate::fault::Fault;
use crate::job::order::OrderSettings;
use crate::job::price::PriceSettings;
use crate::lawn::{Deduction, Lawn};
use crate::limits::SPARE_TURF_SHARE;
use crate::limits::order::USUAL_CHANCE;
use crate::notice::Notice;
use crate::tape::shapes::Taped;
use crate::units::Units;
pub(crate) use cautions::cautions;
use serde::Serialize;
pub use slope::Slope;

/// What was measured, as far as an order needs it.
#[derive(Debug, Clone)]
pub struct Take<'a> {
    /// Net area on the plan (the horizontal), and its standard error.
    pub net_m2: f64,
    pub sigma_m2: f64,
    pub slope: Option<Slope>,
    /// The figures (rectangles, triangles and so on) it was taped in; none where it was walked or drawn.
    pub taped: &'a [Taped],
    /// The lawns' outlines as drawn; none where the area was taped without a plan.
    pub lawns: &'a [Lawn],
    pub deductions: &'a [Deduction],
    /// Length of the measured edge of all lawns together, where it is known better than from the drawing.
    pub perimeter_m: Option<f64>,
    /// The standard error of that length; 0 where nothing is known of it.
    pub perimeter_sigma_m: f64,
}

/// `order` of the result.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct Ordered {
    /// Net area and the allowance for its error; on a slope, both of the sloping ground.
    pub cover_area_m2: f64,
    pub chance_enough: f64,
    /// What is added to `lawn_m2` so that it is enough with the chance `chance_enough`.
    pub allowance_m2: f64,
    /// The same as a percentage of `lawn_m2`.
    pub allowance_percent: f64,
    /// The chance, 0 to 1, that the ordered turf does not cover the true lawn; without turf, that the cover area does not.
    pub chance_short: f64,
    pub net_m2: f64,
    /// What turf, seed and fertiliser go on: the sloping area where it is known, else the net area; and its standard
    /// error.
    pub lawn_m2: f64,
    pub lawn_sigma_m2: f64,
    pub turf: Option<turf::Turf>,
    pub soil: Option<soil::Soil>,
    pub edging: Option<edging::Edging>,
    pub seed: Option<soil::Spread>,
    pub fertiliser: Option<soil::Spread>,
    pub water: Option<soil::Water>,
    pub old_turf: Option<soil::OldTurf>,
    pub mulch: Option<soil::Mulch>,
    pub laying: Option<crew::Laying>,
    /// Every load of turf, in the order in which they come; none where neither the crew nor the vehicle is known.
    pub deliveries: Vec<crew::Drop>,
    pub takeoff: Vec<takeoff::Line>,
    pub price: Option<price::Price>,
    /// What the firm pays. It is left out of the JSON document, since beside the price it would tell the margin.
    #[serde(skip)]
    pub cost: Option<price::Cost>,
    /// When and how turf is to come.
    #[serde(skip)]
    pub delivery: Option<crate::job::order::Delivery>,
    pub cautions: Vec<String>,
    /// Warnings about the order. The result puts them, in this order, before all its others.
    #[serde(skip)]
    pub warnings: Vec<Notice>,
}

/// What turf, seed and the like go on: on a slope the sloping ground, else the net area.
struct Ground {
    m2: f64,
    sigma_m2: f64,
    /// What is covered beyond it in case it is larger than measured: one-sided, at the chance asked for.
    allowance_m2: f64,
    /// Area with allowance over area, a factor of 1 or more.
    cover: f64,
}

impl Ground {
    fn of(take: &Take<'_>, chance_enough: f64) -> Ground {
        let (m2, sigma_m2) = take.slope.map_or((take.net_m2, take.sigma_m2), |slope| {
            slope.ground_m2(take.net_m2, take.sigma_m2)
        });
        let allowance_m2 = chance::allowance(chance_enough, sigma_m2);
        Ground {
            m2,
            sigma_m2,
            allowance_m2,
            cover: 1.0 + allowance_m2 / m2,
        }
    }

    /// Warns of an area so uncertain that it should be measured better before anything is ordered.
    fn too_uncertain(&self, take: &Take<'_>, chance_enough: f64) -> Option<Notice> {
        // To ask for a lesser chance does not make the measurement better, so the usual chance is the least that is judged by.
        let chance = chance_enough.max(USUAL_CHANCE);
        let over_m2 = chance::allowance(chance, self.sigma_m2);
        (over_m2 > SPARE_TURF_SHARE * self.m2).then_some(Notice::Allowance {
            taped: !take.taped.is_empty(),
            chance_percent: 100.0 * chance,
            over_m2,
            lawn_m2: self.m2,
        })
    }
}

/// Works out the order.
///
/// # Errors
/// A fault of kind `Usage` where a setting cannot be laid by, or the area is not a positive number.
pub fn plan(
    take: &Take<'_>,
    settings: &OrderSettings,
    price: Option<&PriceSettings>,
) -> Result<Ordered, Fault> {
    check(take, settings)?;
    let ground = Ground::of(take, settings.chance_enough);
    let mut warnings = Vec::new();
    warnings.extend(ground.too_uncertain(take, settings.chance_enough));
    let mut turf = None;
    if let Some(settings) = &settings.turf {
        let (planned, told) = turf::plan(take, settings, &ground)?;
        turf = Some(planned);
        warnings.extend(told);
    }
    let delivery = settings.delivery.as_ref();
    let (laying, deliveries) = turf.as_ref().map_or((None, Vec::new()), |turf| {
        crew::plan(settings.crew.as_ref(), delivery, turf)
    });
    if let Some(turf) = &mut turf {
        warnings.extend(crew::too_small(delivery, turf));
        // Turf that comes by less than a pallet at a time stands on more pallets than it would fill.
        let stands_on = deliveries.iter().map(|drop| drop.pallets).sum();
        turf.pallets = turf.pallets.max(stands_on);
    }
    let mut order = Ordered {
        turf,
        laying,
        deliveries,
        ..quantities(take, settings, &ground)
    };
    let edging = settings.edging.as_ref();
    warnings.extend(edging.into_iter().flat_map(|s| edging::doubts(take, s)));
    if let Some(turf) = &order.turf {
        order.chance_short = turf.chance_short.ordered;
    }
    order.takeoff = takeoff::lines(&order);
    order.price = price.and_then(|settings| price::price(&order, settings));
    order.cost = price.and_then(|settings| price::cost(&order, settings));
    if let Some(price) = order.price.as_ref().filter(|p| !p.unpriced.is_empty()) {
        warnings.push(Notice::Unpriced {
            items: price.unpriced.iter().map(ToString::to_string).collect(),
        });
    }
    // Where nothing that is ordered has a rate there is no price: a total of 0 would be read as one.
    order.price = order.price.filter(|price| !price.lines.is_empty());
    order.cautions = cautions(&order, Units::Metric);
    order.warnings = warnings;
    Ok(order)
}

/// The areas the order is for, and all quantities that follow from area or length alone. Turf, the lines of the take-off and
/// the price are still missing in what comes back.
fn quantities(take: &Take<'_>, settings: &OrderSettings, ground: &Ground) -> Ordered {
    let chance_enough = settings.chance_enough;
    let (lawn_m2, cover) = (ground.m2, ground.cover);
    let cover_area_m2 = lawn_m2 * cover;
    // Soil depth is measured upright and rain falls upright: their quantities go by the plan, on a slope too.
    let plan_cover = 1.0 + chance::allowance(chance_enough, take.sigma_m2) / take.net_m2;
    let soil = settings.soil.as_ref();
    let edging = settings.edging.as_ref();
    let old_turf = settings.old_turf.as_ref();
    let mulch = settings.mulch.as_ref();
    Ordered {
        cover_area_m2,
        chance_enough,
        allowance_m2: ground.allowance_m2,
        allowance_percent: 100.0 * ground.allowance_m2 / lawn_m2,
        chance_short: chance::short(cover_area_m2, lawn_m2, ground.sigma_m2),
        net_m2: take.net_m2,
        lawn_m2,
        lawn_sigma_m2: ground.sigma_m2,
        soil: soil.map(|s| soil::soil(s, take.net_m2, plan_cover)),
        edging: edging
            .map(|s| edging::plan(take, s, chance_enough))
            .filter(|edging| !edging.runs.is_empty()),
        seed: settings.seed.map(|s| soil::seed(s, lawn_m2, cover)),
        fertiliser: settings
            .fertiliser
            .map(|s| soil::spread(s.g_per_m2, lawn_m2, cover)),
        water: settings.water_mm.map(|mm| soil::water(mm, take.net_m2)),
        old_turf: old_turf.map(|s| soil::old_turf(s, lawn_m2, cover)),
        mulch: mulch.map(|s| soil::mulch(s, take.deductions)),
        delivery: settings.delivery.clone(),
        ..Ordered::default()
    }
}

/// A fault where there is no lawn to order for, or where the chance asked for is not from 0 to below 1.
fn check(take: &Take<'_>, settings: &OrderSettings) -> Result<(), Fault> {
    if !(take.net_m2.is_finite()
        && take.net_m2 > 0.0
        && take.sigma_m2.is_finite()
        && take.sigma_m2 >= 0.0)
    {
        return Err(Fault::withheld(
            "no-area",
            format!(
                "there is no lawn to order for: {} m² with a standard error of {} m².",
                take.net_m2, take.sigma_m2
            ),
            "Check the walk and what is taken off it.",
        ));
    }
    if !(0.0..1.0).contains(&settings.chance_enough) {
        return Err(Fault::usage(
            "chance",
            format!(
                "chance_enough is {}; it must be below 1.",
                settings.chance_enough
            ),
            "0.95 is usual.",
        ));
    }
    Ok(())
}

/// The next whole number up. What is over a whole number by less than a billionth of itself is taken for rounding, so that 20
/// rows that come out as 20.000000001 stay 20. Never below 0.
fn whole_up(quantity: f64) -> u64 {
    (quantity * (1.0 - 1e-9)).ceil().max(0.0) as u64
}
