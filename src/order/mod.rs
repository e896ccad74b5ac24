//! Quantities from a measured lawn: turf row by row, soil, edging, and what they weigh and cost.
//!
//! Two kinds of "more" are kept apart all through: what cutting takes, which comes from laying the rows out, and what
//! the area's error asks for, which comes from its band.

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
use crate::notice::Notice;
use crate::tape::shapes::Taped;
use crate::units::Units;
pub use cautions::cautions;
use serde::Serialize;
pub use slope::Slope;

/// What was measured, as far as an order needs it.
#[derive(Debug, Clone)]
pub struct Take<'a> {
    /// Net area on the plan and its standard error.
    pub net_m2: f64,
    pub sigma_m2: f64,
    pub slope: Option<Slope>,
    /// The figures it was taped in; none where it was walked or drawn.
    pub taped: &'a [Taped],
    /// As drawn; none where the area was taped without a plan.
    pub lawns: &'a [Lawn],
    pub deductions: &'a [Deduction],
    /// Of the measured edge of all lawns together, where it is known better than from the drawing.
    pub perimeter_m: Option<f64>,
    /// Its standard error; 0 where nothing is known of it.
    pub perimeter_sigma_m: f64,
}

/// `order` of the result.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Ordered {
    /// Net area and the allowance for its error; on a slope, both of the sloping ground.
    pub cover_area_m2: f64,
    pub chance_enough: f64,
    /// One-sided, at `chance_enough`; of what turf lies on.
    pub allowance_m2: f64,
    /// Of `lawn_m2`.
    pub allowance_percent: f64,
    /// At the ordered quantity of turf; without turf, at the cover area.
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
    /// What the firm pays. Not in the document: beside the price it tells the margin.
    #[serde(skip)]
    pub cost: Option<price::Cost>,
    /// When and how turf is to come.
    #[serde(skip)]
    pub delivery: Option<crate::job::order::Delivery>,
    pub cautions: Vec<String>,
    /// For the result's own list of warnings, in this order and before all others.
    #[serde(skip)]
    pub warnings: Vec<Notice>,
}

/// An allowance above this part of the net area: measure better before ordering.
const ALLOWANCE_LIMIT: f64 = 0.05;
/// The chance at which it is weighed, however little the order is asked to cover.
const USUAL_CHANCE: f64 = 0.95;

/// Works out the order.
///
/// # Errors
/// A fault of kind `Usage` where a setting cannot be laid by, or the area is not a positive number.
pub fn plan(
    take: &Take<'_>,
    settings: &OrderSettings,
    price: Option<&PriceSettings>,
) -> Result<Ordered, Fault> {
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
    let mut warnings = Vec::new();
    // What lies on the ground, and what goes by the plan.
    let (lawn_m2, lawn_sigma_m2) = take.slope.map_or((take.net_m2, take.sigma_m2), |slope| {
        slope.ground_m2(take.net_m2, take.sigma_m2)
    });
    let allowance_m2 = chance::allowance(settings.chance_enough, lawn_sigma_m2);
    let cover = 1.0 + allowance_m2 / lawn_m2;
    let plan_cover = 1.0 + chance::allowance(settings.chance_enough, take.sigma_m2) / take.net_m2;
    // Whoever orders for a lesser chance has no better measurement.
    let usual_m2 = chance::allowance(settings.chance_enough.max(USUAL_CHANCE), lawn_sigma_m2);
    if usual_m2 > ALLOWANCE_LIMIT * lawn_m2 {
        warnings.push(Notice::Allowance {
            taped: !take.taped.is_empty(),
            chance_percent: 100.0 * settings.chance_enough.max(USUAL_CHANCE),
            over_m2: usual_m2,
            lawn_m2,
        });
    }
    let turf = match &settings.turf {
        Some(turf) => {
            let ground = turf::Ground {
                m2: lawn_m2,
                sigma_m2: lawn_sigma_m2,
                cover,
            };
            Some(turf::plan(take, turf, &ground, &mut warnings)?)
        }
        None => None,
    };
    let cover_area_m2 = lawn_m2 * cover;
    let (laying, deliveries) = turf.as_ref().map_or((None, Vec::new()), |turf| {
        let (crew, delivery) = (settings.crew.as_ref(), settings.delivery.as_ref());
        crew::plan(crew, delivery, turf, &mut warnings)
    });
    let mut order = Ordered {
        cover_area_m2,
        chance_enough: settings.chance_enough,
        allowance_m2,
        allowance_percent: 100.0 * allowance_m2 / lawn_m2,
        chance_short: turf.as_ref().map_or_else(
            || chance::short(lawn_m2 * cover, lawn_m2, lawn_sigma_m2),
            |turf| turf.chance_short.ordered,
        ),
        net_m2: take.net_m2,
        lawn_m2,
        lawn_sigma_m2,
        soil: settings
            .soil
            .as_ref()
            .map(|s| soil::soil(s, take.net_m2, plan_cover)),
        edging: settings
            .edging
            .as_ref()
            .map(|s| edging::plan(take, s, settings.chance_enough, &mut warnings))
            .filter(|edging| !edging.runs.is_empty()),
        seed: settings.seed.map(|s| soil::seed(s, lawn_m2, cover)),
        fertiliser: settings
            .fertiliser
            .map(|s| soil::spread(s.g_per_m2, lawn_m2, cover)),
        water: settings.water_mm.map(|mm| soil::water(mm, take.net_m2)),
        old_turf: settings
            .old_turf
            .as_ref()
            .map(|s| soil::old_turf(s, lawn_m2, cover)),
        mulch: settings
            .mulch
            .as_ref()
            .map(|s| soil::mulch(s, take.deductions)),
        laying,
        deliveries,
        turf,
        takeoff: Vec::new(),
        price: None,
        cost: None,
        delivery: settings.delivery.clone(),
        cautions: Vec::new(),
        warnings: Vec::new(),
    };
    order.takeoff = takeoff::lines(&order);
    order.price = price.and_then(|settings| price::price(&order, settings));
    order.cost = price.and_then(|settings| price::cost(&order, settings));
    if let Some(price) = order.price.as_ref().filter(|p| !p.unpriced.is_empty()) {
        warnings.push(Notice::Unpriced {
            items: price.unpriced.iter().map(ToString::to_string).collect(),
        });
    }
    order.cautions = cautions(&order, Units::Metric);
    order.warnings = warnings;
    Ok(order)
}

/// Up to the next whole number; what is over a whole number by less than a billionth is rounding.
fn whole_up(quantity: f64) -> u64 {
    (quantity * (1.0 - 1e-9)).ceil().max(0.0) as u64
}
