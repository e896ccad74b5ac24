//! What a live survey costs on its own thread: the time that one more position takes, after an hour's walk with 20 positions a second.

use boundwalk::live::now::Now;
use boundwalk::read::piece::Pieces;
use std::fmt::Write as _;

const HZ: u32 = 20;
const HOUR_S: u32 = 3600;

fn main() {
    divan::main();
}

/// The sentences GGA, RMC and GST of the nth position of a walk round a circle, a minute for each lap.
fn epoch(nth: u32) -> String {
    let t_s = f64::from(nth) / f64::from(HZ);
    let turn = t_s / 60.0 * std::f64::consts::TAU;
    // The circle's radius in degrees is about 10 m.
    let (lat, lon) = (45.0 + 9e-5 * turn.sin(), 1.0 + 1.27e-4 * turn.cos());
    let angle = |deg: f64, width: usize| {
        let minutes = deg.fract() * 60.0;
        format!("{:0width$}{minutes:011.8}", deg.trunc() as u32)
    };
    let tod_s = 30_600.0 + t_s;
    let (h, m) = ((tod_s / 3600.0) as u32, (tod_s / 60.0) as u32 % 60);
    let time = format!("{h:02}{m:02}{:05.2}", tod_s % 60.0);
    let at = format!("{},N,{},E", angle(lat, 2), angle(lon, 3));
    let mut all = String::new();
    for body in [
        format!("GNRMC,{time},A,{at},1.0,,140526,,,R"),
        format!("GNGGA,{time},{at},4,19,0.70,15.9,M,46.0,M,,"),
        format!("GNGST,{time},,,,,0.014,0.014,0.021"),
    ] {
        let sum = body.bytes().fold(0u8, |sum, byte| sum ^ byte);
        let _ = write!(all, "${body}*{sum:02X}\r\n");
    }
    all
}

/// One more position when an hour has been walked: from its bytes to a fix, to the track and its laps, and to what is wrong.
#[divan::bench]
fn update_after_an_hour(bencher: divan::Bencher) {
    let (mut pieces, mut now) = (Pieces::default(), Now::default());
    let mut nth = 0;
    let mut take = move || {
        let piece = pieces.take(epoch(nth).as_bytes());
        assert_eq!(piece.fixes.len(), 1);
        let came_s = f64::from(nth) / f64::from(HZ);
        now.heard(came_s, piece.damaged);
        now.fix(&piece.fixes[0], came_s);
        assert!(now.wrong(came_s).is_empty());
        nth += 1;
        now.track.laps
    };
    for _ in 0..HZ * HOUR_S {
        take();
    }
    // In an hour of laps of a minute, at least 59 must be found.
    assert!(take() >= 59);
    bencher.bench_local(take);
}
