//! What is tried. A cell is one kind of walk: one class of receiver on one shape of lawn, so many laps, and so on. Each cell has any
//! number of walks, and each walk has one number, from which all of it can be drawn again.

use super::blunder::Blunder;
use super::receiver::{Claim, Class};
use super::shape::Shape;

/// The rates that are tried, in fixes a second.
pub const RATES_HZ: [f64; 3] = [1.0, 5.0, 10.0];
pub const MOST_LAPS: usize = 4;

/// What is out of the ordinary in the way the surveyor walks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Manner {
    /// Nothing is: the antenna is held over the edge, for whole laps, all the same way round.
    Plain,
    /// The antenna is carried beside the edge, and the job says so.
    Carried,
    /// A part of one more lap is walked at the end.
    PartLap,
    /// The surveyor turns round after each lap.
    TurnRound,
}

impl Manner {
    pub const ALL: [Manner; 4] = [
        Manner::Plain,
        Manner::Carried,
        Manner::PartLap,
        Manner::TurnRound,
    ];

    pub fn name(self) -> &'static str {
        match self {
            Manner::Plain => "plain",
            Manner::Carried => "carried",
            Manner::PartLap => "part-lap",
            Manner::TurnRound => "turn-round",
        }
    }
}

/// One kind of walk.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cell {
    pub class: Class,
    pub shape: Shape,
    /// How many laps are walked, 1 to [`MOST_LAPS`].
    pub laps: usize,
    /// One of [`RATES_HZ`].
    pub rate_hz: f64,
    pub claim: Claim,
    pub manner: Manner,
}

/// One walk: its cell, which of the cell's walks it is, and the blunder put into its log, if any.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Walk {
    pub cell: Cell,
    pub index: u64,
    pub blunder: Option<Blunder>,
}

/// How many cells there are.
const CELLS: u64 = (Class::ALL.len()
    * Shape::ALL.len()
    * MOST_LAPS
    * RATES_HZ.len()
    * Claim::ALL.len()
    * Manner::ALL.len()) as u64;

/// What may have been done to a log, for the numbers below [`LATER`] or for those from it on. The walks that drift have the numbers
/// from there on to themselves, so that they change no other walk's number: its chances are drawn by that number.
fn blunders(later: bool) -> Vec<Option<Blunder>> {
    if later {
        vec![Some(Blunder::Drift)]
    } else {
        let taken = Blunder::TAKEN_IN_TURN.map(Some);
        [None].into_iter().chain(taken).collect()
    }
}

/// The first number of a walk that drifts.
const LATER: u64 = 1 << 63;

/// At which place of the list this one stands.
fn place<T: PartialEq>(all: &[T], one: &T) -> u64 {
    all.iter().position(|other| other == one).unwrap_or(0) as u64
}

/// Takes the last digit off the code, and gives what stands at that place of the list.
fn digit<T: Copy>(code: &mut u64, all: &[T]) -> Option<T> {
    let count = all.len() as u64;
    let found = all.get((*code % count) as usize).copied();
    *code /= count;
    found
}

impl Walk {
    /// The number that says everything of the walk: its index times the number of kinds, plus its kind. The kind is written like a
    /// number whose digits each have a base of their own (as hours, minutes and seconds have): one digit for the class, one for the
    /// shape, and so on.
    pub fn number(&self) -> u64 {
        let laps: [usize; MOST_LAPS] = std::array::from_fn(|i| i + 1);
        let later = self.blunder == Some(Blunder::Drift);
        let blunders = blunders(later);
        let digits = [
            (place(&Class::ALL, &self.cell.class), Class::ALL.len()),
            (place(&Shape::ALL, &self.cell.shape), Shape::ALL.len()),
            (place(&laps, &self.cell.laps), MOST_LAPS),
            (place(&RATES_HZ, &self.cell.rate_hz), RATES_HZ.len()),
            (place(&Claim::ALL, &self.cell.claim), Claim::ALL.len()),
            (place(&Manner::ALL, &self.cell.manner), Manner::ALL.len()),
            (place(&blunders, &self.blunder), blunders.len()),
        ];
        let kind = digits
            .iter()
            .fold(0, |kind, (digit, count)| kind * *count as u64 + digit);
        let kinds = CELLS * blunders.len() as u64;
        let number = self.index.wrapping_mul(kinds).wrapping_add(kind);
        if later { LATER | number } else { number }
    }

    /// The walk of this number. Every number is some walk's.
    pub fn from_number(number: u64) -> Option<Walk> {
        let blunders = blunders(number >= LATER);
        let kinds = CELLS * blunders.len() as u64;
        let number = number % LATER;
        let mut code = number % kinds;
        let laps: [usize; MOST_LAPS] = std::array::from_fn(|i| i + 1);
        let blunder = digit(&mut code, &blunders)?;
        let manner = digit(&mut code, &Manner::ALL)?;
        let claim = digit(&mut code, &Claim::ALL)?;
        let rate_hz = digit(&mut code, &RATES_HZ)?;
        let laps = digit(&mut code, &laps)?;
        let shape = digit(&mut code, &Shape::ALL)?;
        let class = digit(&mut code, &Class::ALL)?;
        Some(Walk {
            cell: Cell {
                class,
                shape,
                laps,
                rate_hz,
                claim,
                manner,
            },
            index: number / kinds,
            blunder,
        })
    }

    /// The same walk with nothing done to its log.
    pub fn clean(&self) -> Walk {
        Walk {
            blunder: None,
            ..*self
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_says_everything() {
        let most = 27 * CELLS;
        for number in (0..most).chain(LATER..LATER + most).step_by(11) {
            let walk = Walk::from_number(number).unwrap();
            assert_eq!(walk.number(), number);
        }
        assert_eq!(Walk::from_number(0).unwrap().blunder, None);
        assert_eq!(Walk::from_number(u64::MAX).unwrap().number(), u64::MAX);
    }
}
