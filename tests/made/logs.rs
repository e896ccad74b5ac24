//! Invented logs of any size, the same bytes every time: what the read benches are measured on, and what the
//! damage trials start from. A walk round a circle of 12 m radius at ten fixes a second.

use std::fmt::Write;

pub use crate::seeded::Seeded;

/// From -1 to 1.
fn either_way(dice: &mut Seeded) -> f64 {
    (dice.next() >> 11) as f64 / (1u64 << 52) as f64 - 1.0
}

/// A log and the fixes that a reader must find in it.
pub struct Made {
    pub bytes: Vec<u8>,
    pub fixes: u64,
}

/// Epochs of a day at ten a second: the next would begin another date.
const EPOCHS_OF_A_DAY: u64 = 864_000;
const RADIUS_M: f64 = 12.0;
/// Metres of a degree of latitude, near enough for a drawing.
const METRES_PER_DEG: f64 = 111_200.0;

struct Epoch {
    lat_deg: f64,
    lon_deg: f64,
    height_m: f64,
    day: u64,
    tenths: u64,
}

fn epoch(number: u64, noise: &mut Seeded) -> Epoch {
    // 0.12 m a step at ten steps a second.
    let along = number as f64 * 0.12 / RADIUS_M;
    let north_m = RADIUS_M * along.sin() + 0.01 * either_way(noise);
    let east_m = RADIUS_M * along.cos() + 0.01 * either_way(noise);
    Epoch {
        lat_deg: 52.1 + north_m / METRES_PER_DEG,
        lon_deg: 1.2 + east_m / (METRES_PER_DEG * 0.614),
        height_m: 80.0 + 0.02 * either_way(noise),
        day: 1 + number / EPOCHS_OF_A_DAY,
        tenths: number % EPOCHS_OF_A_DAY,
    }
}

fn sentence(log: &mut String, body: &str) {
    let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
    // Writing to a string can't fail.
    let _ = write!(log, "${body}*{sum:02X}\r\n");
}

fn degrees_minutes(deg: f64, width: usize) -> String {
    let whole = deg.floor();
    format!("{whole:0width$.0}{:010.7}", (deg - whole) * 60.0)
}

fn nmea(bytes: usize, sky: bool) -> Made {
    let mut noise = Seeded(17);
    let mut log = String::with_capacity(bytes + 2048);
    let mut fixes = 0;
    while log.len() < bytes {
        let at = epoch(fixes, &mut noise);
        let (s, tenth) = (at.tenths / 10, at.tenths % 10);
        let time = format!("{:02}{:02}{:02}.{tenth}0", s / 3600, s / 60 % 60, s % 60);
        let lat = degrees_minutes(at.lat_deg, 2);
        let lon = degrees_minutes(at.lon_deg, 3);
        let height_m = at.height_m;
        sentence(
            &mut log,
            &format!("GNGGA,{time},{lat},N,{lon},E,4,18,0.62,{height_m:.3},M,46.912,M,1.1,0042"),
        );
        sentence(
            &mut log,
            &format!(
                "GNRMC,{time},A,{lat},N,{lon},E,2.33,091.4,{:02}0526,,,R,V",
                at.day
            ),
        );
        sentence(
            &mut log,
            &format!("GNGST,{time},18,0.012,0.010,41.2,0.011,0.010,0.019"),
        );
        // 60 % of the bytes, as in a log of every sentence a receiver knows.
        if sky {
            sentence(
                &mut log,
                "GNGSA,A,3,02,05,07,13,15,20,29,30,,,,,1.12,0.62,0.93,1",
            );
            for part in 1..=3 {
                let mut body = format!("GPGSV,3,{part},12");
                for n in 0..4 {
                    let _ = write!(
                        body,
                        ",{:02},{:02},{:03},{:02}",
                        part * 4 + n,
                        noise.below(90),
                        noise.below(360),
                        30 + noise.below(20)
                    );
                }
                sentence(&mut log, &format!("{body},1"));
            }
            sentence(&mut log, "GNGSA,A,3,65,71,72,80,81,,,,,,,,1.12,0.62,0.93,2");
        }
        fixes += 1;
    }
    Made {
        bytes: log.into_bytes(),
        fixes,
    }
}

/// At least so many bytes of GGA, RMC and GST.
pub fn positions(bytes: usize) -> Made {
    nmea(bytes, false)
}

/// At least so many bytes of NMEA of which 60 % are satellites used and in view.
pub fn satellites(bytes: usize) -> Made {
    nmea(bytes, true)
}

/// At least so many bytes of GPX 1.1, as a phone writes it.
pub fn gpx(bytes: usize) -> Made {
    let mut noise = Seeded(18);
    let mut log = String::with_capacity(bytes + 2048);
    log.push_str(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<gpx version=\"1.1\" creator=\"made\" \
         xmlns=\"http://www.topografix.com/GPX/1/1\">\n<trk><name>round</name><trkseg>\n",
    );
    let mut fixes = 0;
    while log.len() < bytes {
        let at = epoch(fixes, &mut noise);
        let s = at.tenths / 10;
        let _ = writeln!(
            log,
            "  <trkpt lat=\"{:.9}\" lon=\"{:.9}\">\n    <ele>{:.3}</ele>\n    \
             <time>2026-05-{:02}T{:02}:{:02}:{:02}.{}Z</time>\n    <sat>18</sat>\n    <hdop>0.6</hdop>\n  </trkpt>",
            at.lat_deg,
            at.lon_deg,
            at.height_m,
            at.day,
            s / 3600,
            s / 60 % 60,
            s % 60,
            at.tenths % 10
        );
        fixes += 1;
    }
    log.push_str("</trkseg></trk></gpx>\n");
    Made {
        bytes: log.into_bytes(),
        fixes,
    }
}
