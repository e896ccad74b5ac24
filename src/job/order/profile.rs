//! The sizes that turf is commonly sold in, with what follows from each for an order.

use super::{Method, Turf};
use crate::units::INCH_M;

/// A size in which turf is sold. It has no other name than its size.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Profile {
    /// Its size as it is written.
    pub name: &'static str,
    /// What a piece is called.
    pub noun: &'static str,
    /// Metres.
    pub width_m: f64,
    /// Metres.
    pub length_m: f64,
    /// Kilograms a square metre.
    pub kg_per_m2: f64,
    /// How many pieces are on a full pallet.
    pub pieces_per_pallet: u32,
    /// Whether pallets that are not full are sold.
    pub part_pallets: bool,
}

/// Sizes in common use. Weights are of moist turf, 20 kg/m² (15 dry, 27 wet); where pallets are sold by area, the
/// pallet's weight divided by its area. Common practice; no standard fixes them.
pub const PROFILES: [Profile; 5] = [
    Profile {
        name: "0.40 x 2.50 m",
        noun: "roll",
        width_m: 0.40,
        length_m: 2.50,
        kg_per_m2: 20.0,
        pieces_per_pallet: 50,
        part_pallets: true,
    },
    Profile {
        name: "0.61 x 1.64 m",
        noun: "roll",
        width_m: 0.61,
        length_m: 1.64,
        kg_per_m2: 20.0,
        pieces_per_pallet: 50,
        part_pallets: true,
    },
    Profile {
        name: "0.50 x 2.00 m",
        noun: "roll",
        width_m: 0.50,
        length_m: 2.00,
        kg_per_m2: 20.0,
        pieces_per_pallet: 50,
        part_pallets: true,
    },
    Profile {
        name: "16 x 24 in",
        noun: "slab",
        width_m: 16.0 * INCH_M,
        length_m: 24.0 * INCH_M,
        kg_per_m2: 27.0,
        pieces_per_pallet: 170,
        part_pallets: false,
    },
    Profile {
        name: "24 x 60 in",
        noun: "roll",
        width_m: 24.0 * INCH_M,
        length_m: 60.0 * INCH_M,
        kg_per_m2: 27.0,
        pieces_per_pallet: 50,
        part_pallets: false,
    },
];

impl Profile {
    /// The shortest piece that is laid, metres: the trade asks for half a metre or so. Of short pieces it is a third at most, or no bond
    /// (joints away from those of the next row) could be laid.
    #[must_use]
    pub fn min_piece_m(self) -> f64 {
        (self.length_m / 3.0).min(0.5)
    }
    /// The least distance between joints of neighbouring rows: 0.3 m, or of short pieces a quarter.
    #[must_use]
    pub fn stagger_m(self) -> f64 {
        (self.length_m / 4.0).min(0.3)
    }
    /// The settings for turf of this size, with the defaults of the trade.
    #[must_use]
    pub fn turf(self) -> Turf {
        Turf {
            noun: self.noun.to_owned(),
            kind: None,
            piece_width_m: self.width_m,
            piece_length_m: self.length_m,
            kg_per_m2: self.kg_per_m2,
            pieces_per_pallet: self.pieces_per_pallet,
            part_pallets: self.part_pallets,
            method: Method::Rows,
            cutting_percent: 10.0,
            size_tolerance_percent: 0.0,
            min_piece_m: self.min_piece_m(),
            stagger_m: self.stagger_m(),
            direction_deg: None,
        }
    }
}
