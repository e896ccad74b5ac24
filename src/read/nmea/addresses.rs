//! Counts the sentence addresses of one file (the first word of a sentence, such as `GNGGA`: two letters for the talker, three for the
//! kind) by whether their checksums are right. From the counts follows the policy: which sentences are used although their checksum is
//! wrong or missing.

use super::scan::Checksum;
use super::sentence::Kind;
use std::collections::BTreeMap;

/// This many wrong checksums of an address without a right one show that the logger works them out wrongly, and not that lines were damaged.
const SYSTEMATIC: u64 = 3;
/// A file counts as written without checksums where the sentences without one are more than this many times those with one.
const BARE: u64 = 10;
/// The most different addresses that are kept, more than any receiver sends. All further ones are counted as one.
const MOST: usize = 200;

/// One address.
#[derive(Debug, Clone)]
pub struct Address {
    pub name: String,
    pub kind: Option<Kind>,
    pub talker: [u8; 2],
    pub right: u64,
    pub wrong: u64,
    pub missing: u64,
    /// Whether its sentences are used although their checksum is wrong or missing.
    pub lenient: bool,
}

/// All addresses of a file, in order of appearance.
#[derive(Debug, Clone, Default)]
pub struct Addresses {
    table: Vec<Address>,
    /// A hash table from the packed name to the number in `table`; its length is a power of two.
    slots: Vec<(u64, u8)>,
    /// The same for addresses of five characters that were met lately, by their bytes as they stand. A log repeats a handful, and these are
    /// found here most quickly.
    met: Vec<(u64, u8)>,
    policy: Policy,
}

/// Which checksum failures are a broken logger's rather than damage.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Policy {
    /// Whether the file was written without checksums.
    pub bare: bool,
    /// Addresses whose checksums are all wrong or missing while others are right.
    pub broken: Vec<String>,
}

const SLOTS: usize = 512;
const MET: usize = 64;
const EMPTY: u64 = 0;
/// Keys are multiplied by this to spread them over the places of a table: 2^64 divided by the golden ratio (Knuth, The Art of Computer
/// Programming, 6.4).
const MIX: u64 = 0x9e37_79b9_7f4a_7c15;

impl Addresses {
    pub(crate) fn new(policy: Policy) -> Addresses {
        Addresses {
            slots: vec![(EMPTY, 0); SLOTS],
            met: vec![(EMPTY, 0); MET],
            policy,
            ..Addresses::default()
        }
    }

    /// Counts the sentence with this body, and gives its address with the address's number. `None` where it has no address.
    #[inline]
    pub(crate) fn count(&mut self, body: &[u8], checksum: Checksum) -> Option<(u8, &Address)> {
        let five = five(body);
        let place = (five.wrapping_mul(MIX) >> 58) as usize;
        let number = match self.met.get(place) {
            Some((met, number)) if *met == five && five != EMPTY => *number,
            _ => {
                let name = address_of(body);
                let number = self.find(pack(name)?, name);
                if let Some(met) = self.met.get_mut(place) {
                    *met = (five, number);
                }
                number
            }
        };
        let address = self.table.get_mut(usize::from(number))?;
        match checksum {
            Checksum::Right => address.right += 1,
            Checksum::Wrong => address.wrong += 1,
            Checksum::Missing => address.missing += 1,
        }
        Some((number, address))
    }

    /// The number of an address, which is added to the table where it is new.
    fn find(&mut self, key: u64, name: &[u8]) -> u8 {
        let mut slot = (key.wrapping_mul(MIX) >> 55) as usize;
        loop {
            match self.slots.get(slot % SLOTS) {
                Some((k, number)) if *k == key => return *number,
                Some((EMPTY, _)) | None => break,
                Some(_) => slot += 1,
            }
        }
        if self.table.len() >= MOST {
            return (MOST - 1) as u8;
        }
        let number = self.table.len() as u8;
        let mut address = if self.table.len() == MOST - 1 {
            Address::new("others")
        } else {
            Address::new(&String::from_utf8_lossy(name).to_ascii_uppercase())
        };
        address.lenient = self.policy.broken.contains(&address.name);
        self.table.push(address);
        if let Some(place) = self.slots.get_mut(slot % SLOTS) {
            *place = (key, number);
        }
        number
    }

    /// Whether a sentence may be used.
    #[inline]
    pub(crate) fn usable(&self, address: u8, checksum: Checksum) -> bool {
        match checksum {
            Checksum::Right => true,
            Checksum::Missing if self.policy.bare => true,
            _ => self
                .table
                .get(usize::from(address))
                .is_some_and(|a| a.lenient),
        }
    }

    /// The policy that the counts call for.
    pub(crate) fn policy(&self) -> Policy {
        let right: u64 = self.table.iter().map(|a| a.right).sum();
        let wrong: u64 = self.table.iter().map(|a| a.wrong).sum();
        let missing: u64 = self.table.iter().map(|a| a.missing).sum();
        let mut broken: Vec<String> = self
            .table
            .iter()
            .filter(|a| {
                a.kind.is_some()
                    && a.right == 0
                    && a.wrong + a.missing >= SYSTEMATIC
                    && right >= SYSTEMATIC
            })
            .map(|a| a.name.clone())
            .collect();
        broken.sort();
        Policy {
            bare: missing > BARE * (right + wrong),
            broken,
        }
    }

    pub(crate) fn all(&self) -> &[Address] {
        &self.table
    }

    /// Counts by address.
    pub(crate) fn sentences(&self) -> BTreeMap<String, u64> {
        self.table
            .iter()
            .map(|a| (a.name.clone(), a.right + a.wrong + a.missing))
            .collect()
    }
}

impl Address {
    fn new(name: &str) -> Address {
        let bytes = name.as_bytes();
        let five = <&[u8; 5]>::try_from(bytes).ok();
        Address {
            name: name.to_string(),
            kind: five.and_then(Kind::of),
            talker: match bytes {
                [a, b, ..] => [*a, *b],
                _ => *b"??",
            },
            right: 0,
            wrong: 0,
            missing: 0,
            lenient: false,
        }
    }
}

/// The text before the first comma of a body; the whole body where there is no comma among its first nine bytes.
#[inline]
pub(super) fn address_of(body: &[u8]) -> &[u8] {
    let start = body.get(..9).unwrap_or(body);
    let end = start.iter().position(|b| *b == b',');
    body.get(..end.unwrap_or(body.len())).unwrap_or(body)
}

/// The first five bytes as one number, where a comma follows them; else [`EMPTY`].
#[inline]
fn five(body: &[u8]) -> u64 {
    let Some(eight) = body.first_chunk::<8>() else {
        return EMPTY;
    };
    let word = u64::from_le_bytes(*eight);
    if (word >> 40) as u8 == b',' {
        word & 0xff_ffff_ffff
    } else {
        EMPTY
    }
}

/// Up to eight letters and digits as one number, lower case as upper. `None` where it is no address.
#[inline]
fn pack(name: &[u8]) -> Option<u64> {
    if name.len() < 3 || name.len() > 8 {
        return None;
    }
    let mut key = 0u64;
    for b in name {
        if !b.is_ascii_alphanumeric() {
            return None;
        }
        key = key << 8 | u64::from(b.to_ascii_uppercase());
    }
    Some(key)
}
