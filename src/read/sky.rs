//! The sky the receiver saw: satellites in view and their signal, from GSV, and the geometry, from GSA. Only a look at
//! a log needs it. These two sentences go through the `nmea` crate.

use nmea::ParseResult;
use serde::Serialize;
use std::collections::BTreeMap;

/// Signal of a satellite that is received well enough to be used with little error, dB-Hz (common practice, no source).
const GOOD_DB: i32 = 35;

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
    /// Sentences that the parser refused.
    pub refused: u64,
    #[serde(skip)]
    signals: u64,
    #[serde(skip)]
    sum_db: i64,
    #[serde(skip)]
    good: u64,
    #[serde(skip)]
    buffer: Vec<u8>,
}

impl Sky {
    /// Takes one sentence's body, without `$` and checksum.
    pub(crate) fn add(&mut self, body: &[u8]) {
        self.buffer.clear();
        self.buffer.push(b'$');
        self.buffer.extend(body.iter().map(u8::to_ascii_uppercase));
        // The scanner has judged the sentence's own checksum; upper case has changed it.
        let sum = self.buffer.iter().skip(1).fold(0u8, |a, b| a ^ b);
        self.buffer
            .extend_from_slice(format!("*{sum:02X}").as_bytes());
        match nmea::parse_bytes(&self.buffer) {
            Ok(ParseResult::GSV(data)) => {
                let talker =
                    String::from_utf8_lossy(body.get(..2).unwrap_or(b"??")).to_ascii_uppercase();
                let most = self.in_view.entry(talker).or_default();
                *most = (*most).max(data.sats_in_view);
                for satellite in data.sats_info.iter().flatten() {
                    if let Some(db) = satellite.snr().filter(|db| *db > 0.0) {
                        let db = db.round() as i32;
                        self.signals += 1;
                        self.sum_db += i64::from(db);
                        self.good += u64::from(db >= GOOD_DB);
                    }
                }
            }
            Ok(ParseResult::GSA(data)) => {
                let pdop = data.pdop.filter(|p| *p > 0.0 && *p < 99.0);
                self.worst_pdop = match (self.worst_pdop, pdop) {
                    (Some(a), Some(b)) => Some(a.max(b)),
                    (a, b) => a.or(b),
                };
            }
            Ok(_) => {}
            Err(_) => self.refused += 1,
        }
    }

    pub(crate) fn end(&mut self) {
        self.buffer = Vec::new();
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
