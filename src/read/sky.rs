//! The sky as the receiver saw it: satellites in view and the strength of their signals, from the NMEA sentences GSV, and how well they are
//! spread, from GSA. Only the inspection of a log needs it.

use serde::Serialize;
use std::collections::BTreeMap;

/// Strength from which on a satellite's signal is used with little error, dB-Hz (power of the signal against the noise in a band of 1 Hz;
/// common practice, no source).
const GOOD_DB: f64 = 35.0;

/// What GSV and GSA say over a whole log.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct Sky {
    /// By talker (`GP`, `GL`, `GA`, ...): the most satellites in view at once.
    pub in_view: BTreeMap<String, u16>,
    /// Mean signal of the satellites that had one, dB-Hz.
    pub signal_db: Option<f64>,
    /// Share of them at 35 dB-Hz or better, percent.
    pub good_percent: Option<f64>,
    /// The largest dilution of position (PDOP).
    pub worst_pdop: Option<f32>,
    /// Sentences that are not as they should be.
    pub refused: u64,
    #[serde(skip)]
    signals: u64,
    #[serde(skip)]
    sum_db: i64,
    #[serde(skip)]
    good: u64,
}

impl Sky {
    /// Takes one sentence's body, without `$` and checksum.
    pub(crate) fn add(&mut self, body: &[u8]) {
        let body = String::from_utf8_lossy(body).to_ascii_uppercase();
        let fields: Vec<&str> = body.split(',').collect();
        let taken = match fields.split_first() {
            Some((address, fields)) if address.ends_with("GSV") => self.in_view(address, fields),
            Some((address, fields)) if address.ends_with("GSA") => self.geometry(fields),
            _ => Some(()),
        };
        self.refused += u64::from(taken.is_none());
    }

    /// GSV has the number of sentences, which of them this is, and the number of satellites in view; then for each satellite its number,
    /// elevation, azimuth and signal; and from NMEA 4.10 on which signal that is. `None` where that cannot be read.
    fn in_view(&mut self, address: &str, fields: &[&str]) -> Option<()> {
        let in_view: u16 = fields.get(2)?.parse().ok()?;
        let talker = address.get(..2)?.to_owned();
        let most = self.in_view.entry(talker).or_default();
        *most = (*most).max(in_view);
        for satellite in fields.get(3..)?.chunks_exact(4) {
            let db = satellite[3].parse().ok().filter(|db: &f64| *db > 0.0);
            if let Some(db) = db.map(f64::round) {
                self.signals += 1;
                self.sum_db += db as i64;
                self.good += u64::from(db >= GOOD_DB);
            }
        }
        Some(())
    }

    /// GSA has how the kind of solution is chosen, the kind, and twelve satellites; then the dilutions PDOP, HDOP and VDOP. `None` where
    /// that cannot be read.
    fn geometry(&mut self, fields: &[&str]) -> Option<()> {
        let pdop = match *fields.get(14)? {
            "" => None,
            text => Some(text.parse::<f32>().ok()?),
        };
        let pdop = pdop.filter(|p| *p > 0.0 && *p < 99.0);
        self.worst_pdop = self.worst_pdop.into_iter().chain(pdop).reduce(f32::max);
        Some(())
    }

    /// Works out the means once all sentences were taken.
    pub(crate) fn end(&mut self) {
        if self.signals > 0 {
            self.signal_db = Some(self.sum_db as f64 / self.signals as f64);
            self.good_percent = Some(100.0 * self.good as f64 / self.signals as f64);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// gpsd's NMEA notes: a GSV group and a GSA.
    #[test]
    fn signals_and_geometry() {
        let mut sky = Sky::default();
        sky.add(b"GPGSV,3,1,11,03,03,111,00,04,15,270,00,06,01,010,00,13,06,292,00");
        sky.add(b"GPGSV,3,2,11,14,25,170,00,16,57,208,39,18,67,296,40,19,40,246,00");
        sky.add(b"GNGSA,A,3,13,16,21,15,10,29,27,20,,,,,1.05,0.64,0.83,1");
        sky.add(b"GPGSV,nonsense");
        sky.end();
        assert_eq!(sky.in_view["GP"], 11);
        assert_eq!(sky.signal_db, Some(39.5));
        assert_eq!(sky.good_percent, Some(100.0));
        assert_eq!(sky.worst_pdop, Some(1.05));
        assert_eq!(sky.refused, 1);
    }
}
