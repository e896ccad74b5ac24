//! The safety cautions that are printed with every order: buried services, lifting, pallets and vehicles, dust, trees, water.
//! Where turf is ordered, its weights are named. They are general advice and defer to local codes.

use super::Ordered;
use crate::limits::order::{LIFT_KG, TAIL_LIFT_KG};
use crate::units::Units;

/// The cautions as whole sentences, the most urgent first, with weights in `units`. The list is never empty.
pub(crate) fn cautions(order: &Ordered, units: Units) -> Vec<String> {
    let few = match units {
        Units::Metric => "centimetres",
        Units::Imperial => "inches",
    };
    let mut said = vec![format!(
        "Buried services: before any peg, pin, spade or turf cutter goes in, get the service drawings or a locate, and \
         take services to be there until shown otherwise. They can lie a few {few} down."
    )];
    said.push(match &order.turf {
        Some(turf) if turf.kg_per_piece > LIFT_KG => format!(
            "Lifting: a {} weighs about {}, more when wet: lift it with two people, and keep carries short.",
            turf.noun,
            units.weight(turf.kg_per_piece)
        ),
        Some(turf) => format!(
            "Lifting: a {} weighs about {}, up to half as much again when wet; {} in all. Keep carries \
             short, share heavy lifts.",
            turf.noun,
            units.weight(turf.kg_per_piece),
            units.weight(turf.kg)
        ),
        None => "Lifting: share heavy lifts and keep carries short; wet turf and soil are half as heavy again."
            .to_owned(),
    });
    said.push(match &order.turf {
        // One percent above the limit is let pass, so that a pallet of just that weight is not called too heavy.
        Some(turf) if turf.pallet_kg > 1.01 * TAIL_LIFT_KG => format!(
            "Pallets and vehicles: a full pallet is about {}, over the {} of a usual tail-lift: ask for a \
             forklift or lighter pallets. Firm, level ground; keep people clear.",
            units.weight(turf.pallet_kg),
            units.weight(TAIL_LIFT_KG)
        ),
        Some(turf) => format!(
            "Pallets and vehicles: a full pallet is about {}. Firm, level ground for it and the vehicle; check \
             gates, drives and what lies under them; keep people clear.",
            units.weight(turf.pallet_kg)
        ),
        None => "Pallets and vehicles: firm, level ground; check gates, drives and what lies under them; keep people \
                 clear."
            .to_owned(),
    });
    for text in [
        "Dust: cutting stone or concrete edging and sweeping dry soil make silica dust: wet it, and wear a fitted mask.",
        "Trees: no digging, level changes, storage or driving over roots without advice; some trees are protected.",
        "Water: new turf needs it daily at first. Check for water restrictions, and keep proof of the date of laying.",
        "Local codes, permits and the supplier's own instructions come before this sheet; leave licensed work (services, \
         trees, waste carriage) to those licensed for it.",
        "Approximate working measurement for ordering materials. Not a survey of legal boundaries or levels.",
    ] {
        said.push(text.to_owned());
    }
    said
}
