//! What goes onto the lawn and what is taken away beside turf: soil, seed, fertiliser, the first watering, mulch, old turf. Each is an
//! area times a depth or a rate from the job sheet. `cover`, a factor of 1 or more, is how much more is ordered in case the
//! lawn is larger than measured.

use super::whole_up;
use crate::job::order::{
    Mulch as MulchSettings, OldTurf as OldTurfSettings, Seed, Soil as SoilSettings,
};
use crate::lawn::{Deduction, Kind};
use serde::Serialize;

/// Topsoil is sold at 1.2 to 1.7 tonnes per loose cubic metre, depending on how wet it is and what is mixed into it. These are
/// merchants' figures, which disagree.
pub(crate) const DENSITY_RANGE_T_M3: [f64; 2] = [1.2, 1.7];

/// `order.soil` of the result. Volumes and tonnes are for the net area as measured; `order_tonnes` and `bags` cover its
/// error too.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Soil {
    pub depth_m: f64,
    /// The factor, 1 or more, by which more is ordered for the error of the area on the plan. `order_tonnes` and `bags` include it.
    pub cover: f64,
    /// Volume in place, after settling.
    pub settled_m3: f64,
    /// Volume as delivered: the settled volume and the settlement allowance.
    pub loose_m3: f64,
    pub tonnes: f64,
    /// Weight if it were the lightest and the heaviest topsoil sold.
    pub tonnes_range: [f64; 2],
    pub order_tonnes: f64,
    /// Bulk bags to order instead of `order_tonnes`.
    pub bags: u64,
    pub settlement_percent: f64,
    pub density_t_m3: f64,
    pub bag_m3: f64,
}

pub(super) fn soil(settings: &SoilSettings, net_m2: f64, cover: f64) -> Soil {
    let settled_m3 = net_m2 * settings.depth_m;
    let loose_m3 = settled_m3 * (1.0 + settings.settlement_percent / 100.0);
    let tonnes = loose_m3 * settings.density_t_m3;
    Soil {
        depth_m: settings.depth_m,
        cover,
        settled_m3,
        loose_m3,
        tonnes,
        tonnes_range: DENSITY_RANGE_T_M3.map(|density| loose_m3 * density),
        order_tonnes: whole_up(tonnes * cover / settings.round_t) as f64 * settings.round_t,
        bags: whole_up(loose_m3 * cover / settings.bag_m3),
        settlement_percent: settings.settlement_percent,
        density_t_m3: settings.density_t_m3,
        bag_m3: settings.bag_m3,
    }
}

/// Something spread by weight, such as seed or fertiliser.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Spread {
    /// The rate of what is bought.
    pub g_per_m2: f64,
    /// The rate of live seed, where not all that is bought is seed that will germinate; else `None`.
    pub live_g_per_m2: Option<f64>,
    /// For the area as measured; `order_kg` covers its error too.
    pub kg: f64,
    pub order_kg: f64,
}

pub(super) fn spread(g_per_m2: f64, area_m2: f64, cover: f64) -> Spread {
    let kg = area_m2 * g_per_m2 / 1000.0;
    Spread {
        g_per_m2,
        live_g_per_m2: None,
        kg,
        order_kg: kg * cover,
    }
}

/// Seed as it is bought: the rate of live seed wanted, divided by purity times germination (the trade's "pure live seed").
pub(super) fn seed(settings: Seed, area_m2: f64, cover: f64) -> Spread {
    let live = settings.purity_percent / 100.0 * settings.germination_percent / 100.0;
    Spread {
        live_g_per_m2: (live < 1.0).then_some(settings.g_per_m2),
        ..spread(settings.g_per_m2 / live, area_m2, cover)
    }
}

/// The first watering.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Water {
    pub mm: f64,
    pub litres: f64,
}

pub(super) fn water(mm: f64, area_m2: f64) -> Water {
    Water {
        mm,
        litres: mm * area_m2,
    }
}

/// Old turf stripped off and taken away.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OldTurf {
    pub depth_m: f64,
    /// Volume while it is still in the ground.
    pub bank_m3: f64,
    /// Volume once it is lifted and loose.
    pub loose_m3: f64,
    pub tonnes: f64,
    pub skips: u64,
    /// Which of "volume" and "weight" fills a skip (a container for waste) first.
    pub skips_by: &'static str,
    pub skip_m3: f64,
    pub skip_t: f64,
}

/// Skips are counted by weight *and* by volume, whichever asks for more: soil overloads a skip before it is full.
pub(super) fn old_turf(settings: &OldTurfSettings, net_m2: f64, cover: f64) -> OldTurf {
    let bank_m3 = net_m2 * settings.depth_m;
    let loose_m3 = bank_m3 * (1.0 + settings.swell_percent / 100.0);
    let tonnes = bank_m3 * settings.density_t_m3;
    let by_volume = loose_m3 * cover / settings.skip_m3;
    let by_weight = tonnes * cover / settings.skip_t;
    OldTurf {
        depth_m: settings.depth_m,
        bank_m3,
        loose_m3,
        tonnes,
        skips: whole_up(by_volume.max(by_weight)),
        skips_by: if by_weight > by_volume {
            "weight"
        } else {
            "volume"
        },
        skip_m3: settings.skip_m3,
        skip_t: settings.skip_t,
    }
}

/// Mulch on the round beds, as a ring that keeps `clear_radius_m` away from the trunk in the middle.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Mulch {
    pub depth_m: f64,
    pub clear_radius_m: f64,
    pub rings: u64,
    pub m3: f64,
}

/// Mulch for every round bed that takes something off the lawn and is larger than the clear circle in its middle.
pub(super) fn mulch(settings: &MulchSettings, deductions: &[Deduction]) -> Mulch {
    let radii: Vec<f64> = deductions
        .iter()
        .filter(|d| d.kind == Kind::Bed && d.deducted_m2 > 0.0)
        .filter_map(|d| d.radius_m)
        .filter(|r| *r > settings.clear_radius_m)
        .collect();
    let area: f64 = radii
        .iter()
        .map(|r| std::f64::consts::PI * (r * r - settings.clear_radius_m.powi(2)))
        .sum();
    Mulch {
        depth_m: settings.depth_m,
        clear_radius_m: settings.clear_radius_m,
        rings: radii.len() as u64,
        m3: area * settings.depth_m,
    }
}
