//! One walk written in each form that a receiver, a phone or a map hands over, as the forms' standards or manuals show them (where no
//! source is named, from memory). Files that other people's encoders wrote are in `fixtures/forms`.

use boundwalk::fix::Fix;
use boundwalk::grid::Grid;
use std::fmt::Write;

/// Height above the ellipsoid that all positions are given, metres.
const HEIGHT_M: f64 = 61.979;
/// One sigma of each axis, metres, as GST of the garden's walk has it.
const SIGMA_M: f64 = 0.014;
/// Seconds by which GPS time is ahead of UTC since 2017 (IERS Bulletin C 52).
const LEAP_S: f64 = 18.0;

pub fn stamp(fix: &Fix) -> String {
    let (Some(s), Some(date)) = (fix.clock_s, fix.date) else {
        return String::new();
    };
    let whole = s as u32;
    let (h, m) = (whole / 3600 % 24, whole / 60 % 60);
    let ms = ((s - f64::from(whole)) * 1000.0).round() as u32;
    let rest = match ms {
        0 => String::new(),
        ms => format!(".{ms:03}"),
    };
    format!("{date}T{h:02}:{m:02}:{:02}{rest}Z", whole % 60)
}

fn days(fix: &Fix, since: jiff::civil::Date) -> i64 {
    let date = fix.date.unwrap_or(since);
    since
        .until((jiff::Unit::Day, date))
        .map_or(0, |span| i64::from(span.get_days()))
}

/// Before all positions, each of them, after all.
fn written(fixes: &[Fix], before: &str, each: impl Fn(&Fix) -> String, after: &str) -> String {
    let mut text = before.to_owned();
    for fix in fixes {
        text.push_str(&each(fix));
    }
    text.push_str(after);
    text
}

/// GPX 1.1.
pub fn gpx(fixes: &[Fix]) -> String {
    let each = |fix: &Fix| {
        format!(
            "<trkpt lat=\"{:.10}\" lon=\"{:.10}\">\n<ele>61.9</ele>\n<time>{}</time>\n<fix>dgps</fix>\n<sat>19</sat>\n<hdop>0.7</hdop>\n</trkpt>\n",
            fix.lat_deg,
            fix.lon_deg,
            stamp(fix)
        )
    };
    let head =
        "<?xml version=\"1.0\"?>\n<gpx version=\"1.1\" creator=\"a logger\">\n<trk><trkseg>\n";
    written(fixes, head, each, "</trkseg></trk></gpx>\n")
}

/// Elements of Training Center XML, version 2.
pub fn tcx(fixes: &[Fix]) -> String {
    let each = |fix: &Fix| {
        format!(
            "<Trackpoint><Time>{}</Time><Position><LatitudeDegrees>{:.10}</LatitudeDegrees><LongitudeDegrees>{:.10}\
             </LongitudeDegrees></Position><AltitudeMeters>61</AltitudeMeters></Trackpoint>\n",
            stamp(fix),
            fix.lat_deg,
            fix.lon_deg
        )
    };
    let head = "<?xml version=\"1.0\"?><TrainingCenterDatabase><Activities><Activity Sport=\"Other\"><Lap><Track>\n";
    let foot = "</Track></Lap></Activity></Activities></TrainingCenterDatabase>";
    written(fixes, head, each, foot)
}

/// A `gx:Track` of KML 2.2.
pub fn kml_track(fixes: &[Fix]) -> String {
    let each = |fix: &Fix| {
        format!(
            "<when>{}</when>\n<gx:coord>{:.10} {:.10} 61.9</gx:coord>\n",
            stamp(fix),
            fix.lon_deg,
            fix.lat_deg
        )
    };
    let head = "<?xml version=\"1.0\"?>\n<kml xmlns=\"http://www.opengis.net/kml/2.2\"><Document><Placemark><gx:Track>\n";
    written(
        fixes,
        head,
        each,
        "</gx:Track></Placemark></Document></kml>\n",
    )
}

/// A `LineString` of KML 2.2, without times.
pub fn kml_line(fixes: &[Fix]) -> String {
    let each = |fix: &Fix| format!("{:.10},{:.10},61.9\n", fix.lon_deg, fix.lat_deg);
    let head = "<kml><Document><Placemark><name>lawn</name><LineString><altitudeMode>absolute</altitudeMode><coordinates>\n";
    written(
        fixes,
        head,
        each,
        "</coordinates></LineString></Placemark></Document></kml>\n",
    )
}

/// TPV as gpsd documents it, with a version line and satellites between.
pub fn gpsd(fixes: &[Fix]) -> String {
    let each = |fix: &Fix| {
        format!(
            "{{\"class\":\"SKY\",\"hdop\":0.7,\"uSat\":19}}\n{{\"class\":\"TPV\",\"mode\":3,\"status\":3,\"time\":\"{}\",\"lat\":{:.10},\
             \"lon\":{:.10},\"altHAE\":61.9,\"epx\":0.0274,\"epy\":0.0274}}\n",
            stamp(fix),
            fix.lat_deg,
            fix.lon_deg
        )
    };
    written(
        fixes,
        "{\"class\":\"VERSION\",\"release\":\"3.25\"}\n",
        each,
        "",
    )
}

/// Columns of Android's loggers, the satellites' own positions and those of the network.
pub fn android(fixes: &[Fix]) -> String {
    let each = |fix: &Fix| {
        let days = days(fix, jiff::civil::date(1970, 1, 1));
        let ms = days * 86_400_000 + (fix.clock_s.unwrap_or(0.0) * 1000.0).round() as i64;
        format!(
            "Fix,GPS,{:.10},{:.10},61.9,1.2,3.0,180,{ms}\nRaw,1,2,3\nFix,NLP,{:.5},{:.5},0,0,25,,{ms}\n",
            fix.lat_deg, fix.lon_deg, fix.lat_deg, fix.lon_deg
        )
    };
    let head = "# Header\n# Fix,Provider,LatitudeDegrees,LongitudeDegrees,AltitudeMeters,SpeedMps,AccuracyMeters,BearingDegrees,UnixTimeMillis\n";
    written(fixes, head, each, "")
}

/// Degrees, minutes and seconds, to a tenth of a millimetre.
fn minutes_seconds(deg: f64, mark: [&str; 3], sign: bool) -> String {
    let whole = deg.abs();
    let (d, m) = (whole.floor(), (whole.fract() * 60.0).floor());
    let s = (whole - d - m / 60.0) * 3600.0;
    let before = if sign && deg < 0.0 { "-" } else { "" };
    format!(
        "{before}{d:.0}{}{m:02.0}{}{s:09.6}{}",
        mark[0], mark[1], mark[2]
    )
}

/// What a row of a post-processed solution says after its place.
const SOLVED: &str = "1 19 0.0140 0.0140 0.0300 0 0 0 0 9.9";
const COLUMNS: &str = "Q  ns  sdn(m) sde(m) sdu(m) sdne(m) sdeu(m) sdun(m) age(s) ratio";

/// A post-processed solution: UTC, decimal degrees.
pub fn pos(fixes: &[Fix]) -> String {
    let each = |fix: &Fix| {
        let stamp = stamp(fix)
            .replace('-', "/")
            .replace('T', " ")
            .replace('Z', "");
        format!(
            "{stamp} {:.10} {:.10} {HEIGHT_M} {SOLVED}\n",
            fix.lat_deg, fix.lon_deg
        )
    };
    let head =
        format!("% program : x\n%  UTC   latitude(deg) longitude(deg) height(m)  {COLUMNS}\n");
    written(fixes, &head, each, "")
}

/// The same in weeks and seconds of GPS time, with degrees, minutes and seconds.
pub fn pos_weeks(fixes: &[Fix]) -> String {
    let each = |fix: &Fix| {
        let days = days(fix, jiff::civil::date(1980, 1, 6));
        let s = (days % 7) as f64 * 86_400.0 + fix.clock_s.unwrap_or(0.0) + LEAP_S;
        let dms = |deg| minutes_seconds(deg, [" ", " ", ""], true);
        format!(
            "{} {s:.3} {} {} {HEIGHT_M} {SOLVED}\n",
            days / 7,
            dms(fix.lat_deg),
            dms(fix.lon_deg)
        )
    };
    let head = format!("%  GPST   latitude(d'\") longitude(d'\") height(m)  {COLUMNS}\n");
    written(fixes, &head, each, "")
}

/// WGS 84 (NIMA TR8350.2, table 3.1).
const A_M: f64 = 6_378_137.0;
const F: f64 = 1.0 / 298.257_223_563;

fn geocentric_m(lat_deg: f64, lon_deg: f64, height_m: f64) -> [f64; 3] {
    let e2 = F * (2.0 - F);
    let (sin, cos) = lat_deg.to_radians().sin_cos();
    let across_m = A_M / (1.0 - e2 * sin * sin).sqrt();
    let (east, to_greenwich) = lon_deg.to_radians().sin_cos();
    [
        (across_m + height_m) * cos * to_greenwich,
        (across_m + height_m) * cos * east,
        (across_m * (1.0 - e2) + height_m) * sin,
    ]
}

/// The same in metres from the Earth's centre.
pub fn pos_geocentric(fixes: &[Fix]) -> String {
    let each = |fix: &Fix| {
        let stamp = stamp(fix)
            .replace('-', "/")
            .replace('T', " ")
            .replace('Z', "");
        let [x, y, z] = geocentric_m(fix.lat_deg, fix.lon_deg, HEIGHT_M);
        format!("{stamp} {x:.5} {y:.5} {z:.5} {SOLVED}\n")
    };
    let head = "%  UTC   x-ecef(m) y-ecef(m) z-ecef(m)  Q  ns  sdx(m) sdy(m) sdz(m) sdxy(m) sdyz(m) sdzx(m) age(s) ratio\n";
    written(fixes, head, each, "")
}

/// The same as a baseline from a reference position in the header.
pub fn pos_baseline(fixes: &[Fix]) -> String {
    let (lat, lon, height_m): (f64, f64, f64) = (45.001, -30.002, 60.0);
    let base = geocentric_m(lat, lon, height_m);
    let ((sin_lat, cos_lat), (sin_lon, cos_lon)) =
        (lat.to_radians().sin_cos(), lon.to_radians().sin_cos());
    let each = |fix: &Fix| {
        let stamp = stamp(fix)
            .replace('-', "/")
            .replace('T', " ")
            .replace('Z', "");
        let at = geocentric_m(fix.lat_deg, fix.lon_deg, HEIGHT_M);
        let [x, y, z] = [at[0] - base[0], at[1] - base[1], at[2] - base[2]];
        let out = cos_lon * x + sin_lon * y;
        let east = cos_lon * y - sin_lon * x;
        let (north, up) = (cos_lat * z - sin_lat * out, cos_lat * out + sin_lat * z);
        format!("{stamp} {east:.5} {north:.5} {up:.5} {SOLVED}\n")
    };
    let head = format!(
        "% ref pos   : {lat:.9} {lon:.9} {height_m:.4}\n%  UTC   e-baseline(m) n-baseline(m) u-baseline(m)  {COLUMNS}\n"
    );
    written(fixes, &head, each, "")
}

/// A line of RFC 7946 with the times that track exporters put beside it.
pub fn timed_line(fixes: &[Fix]) -> String {
    let (mut places, mut times) = (String::new(), String::new());
    for fix in fixes {
        let _ = write!(places, ",[{:.10},{:.10}]", fix.lon_deg, fix.lat_deg);
        let _ = write!(times, ",\"{}\"", stamp(fix));
    }
    format!(
        "{{\"type\":\"Feature\",\"properties\":{{\"coordTimes\":[{}]}},\"geometry\":{{\"type\":\"LineString\",\"coordinates\":[{}]}}}}",
        &times[1..],
        &places[1..]
    )
}

pub fn timed_points(fixes: &[Fix]) -> String {
    let each = |fix: &Fix| {
        format!(
            ",{{\"type\":\"Feature\",\"properties\":{{\"time\":\"{}\",\"accuracy\":3.0}},\"geometry\":{{\"type\":\"Point\",\"coordinates\":\
             [{:.10},{:.10}]}}}}",
            stamp(fix),
            fix.lon_deg,
            fix.lat_deg
        )
    };
    let head = "{\"type\":\"FeatureCollection\",\"features\":[";
    written(fixes, head, each, "]}").replacen("[,", "[", 1)
}

/// Well-known text of the walk's way (OGC 06-103r4), which has no times.
pub fn wkt(fixes: &[Fix]) -> String {
    let places = written(
        fixes,
        "",
        |fix| format!(", {:.10} {:.10}", fix.lon_deg, fix.lat_deg),
        "",
    );
    format!("LINESTRING ({})", &places[2..])
}

/// A table of decimal degrees with everything that a controller knows.
pub fn csv(fixes: &[Fix]) -> String {
    let each = |fix: &Fix| {
        format!(
            "{},{:.10},{:.10},61.9,fixed,19,0.7,{SIGMA_M},{SIGMA_M}\n",
            stamp(fix),
            fix.lat_deg,
            fix.lon_deg
        )
    };
    written(
        fixes,
        "time,latitude,longitude,height,fix,satellites,hdop,sde,sdn\n",
        each,
        "",
    )
}

/// Quoted, tabs between, in another order, degrees with minutes, seconds and the hemisphere's letter, one radius for accuracy.
pub fn csv_minutes(fixes: &[Fix]) -> String {
    let radius_m = 1.515 * SIGMA_M;
    let each = |fix: &Fix| {
        let dms = |deg, letters: [&str; 2]| {
            let text = minutes_seconds(deg, ["° ", "' ", "\"\" "], false);
            format!("\"{text}{}\"", letters[usize::from(deg < 0.0)])
        };
        let lon = dms(fix.lon_deg, ["E", "W"]);
        let lat = dms(fix.lat_deg, ["N", "S"]);
        format!(
            "\"RTK fixed\"\t{radius_m:.4}\t{lon}\t\"{}\"\t{lat}\n",
            stamp(fix)
        )
    };
    let head = "\"Solution\"\t\"Horizontal accuracy (m)\"\t\"Longitude\"\t\"Date and time\"\t\"Latitude\"\n";
    written(fixes, head, each, "")
}

/// Semicolons, decimal commas, the hemisphere in a column of its own.
pub fn csv_commas(fixes: &[Fix]) -> String {
    let each = |fix: &Fix| {
        let row = format!(
            "{:.10};{};{:.10};{};{};{SIGMA_M}\n",
            fix.lat_deg.abs(),
            if fix.lat_deg < 0.0 { "S" } else { "N" },
            fix.lon_deg.abs(),
            if fix.lon_deg < 0.0 { "W" } else { "E" },
            stamp(fix)
        );
        row.replace('.', ",")
    };
    written(fixes, "Lat;N/S;Lon;E/W;UTC;Sigma [m]\n", each, "")
}

/// Eastings and northings of a grid, northing first.
pub fn csv_grid(fixes: &[Fix], grid: &str) -> String {
    let grid = Grid::new(grid).unwrap_or_else(|fault| panic!("{fault}"));
    let each = |fix: &Fix| {
        let at = grid
            .to_grid(fix.lat_deg, fix.lon_deg)
            .unwrap_or_else(|fault| panic!("{fault}"));
        format!(
            "{}|{:.4}|{:.4}|61.9|fixed|{SIGMA_M}|{SIGMA_M}\n",
            stamp(fix),
            at.y,
            at.x
        )
    };
    written(
        fixes,
        "time|Northing|Easting|Height|fix|sde|sdn\n",
        each,
        "",
    )
}

/// A binary message: RFC 1145's 8-bit Fletcher after its content.
pub fn message(into: &mut Vec<u8>, kind: [u8; 2], content: &[u8]) {
    let from = into.len() + 2;
    into.extend_from_slice(&[0xb5, 0x62, kind[0], kind[1]]);
    into.extend_from_slice(&(content.len() as u16).to_le_bytes());
    into.extend_from_slice(content);
    let sums = into[from..].iter().fold([0u8, 0u8], |[a, b], byte| {
        let a = a.wrapping_add(*byte);
        [a, b.wrapping_add(a)]
    });
    into.extend_from_slice(&sums);
}

/// NAV-PVT, NAV-HPPOSLLH and NAV-DOP of each moment.
pub fn ubx(fixes: &[Fix]) -> Vec<u8> {
    let mut bytes = Vec::with_capacity(fixes.len() * 170);
    for fix in fixes {
        let clock_ms = (fix.clock_s.unwrap_or(0.0) * 1000.0).round() as u32;
        let date = fix.date.unwrap_or(jiff::civil::date(2026, 5, 14));
        let coarse = |deg: f64| (deg * 1e7).round() as i32;
        let rest = |deg: f64| ((deg * 1e7 - (deg * 1e7).round()) * 100.0).round() as i8;
        let mut pvt = [0u8; 92];
        pvt[0..4].copy_from_slice(&clock_ms.to_le_bytes());
        pvt[4..6].copy_from_slice(&date.year().to_le_bytes());
        let s = clock_ms / 1000;
        pvt[6..11].copy_from_slice(&[
            date.month() as u8,
            date.day() as u8,
            (s / 3600 % 24) as u8,
            (s / 60 % 60) as u8,
            (s % 60) as u8,
        ]);
        pvt[11] = 7;
        pvt[16..20].copy_from_slice(&((clock_ms % 1000) as i32 * 1_000_000).to_le_bytes());
        (pvt[20], pvt[21], pvt[23]) = (3, 0x81, 19);
        pvt[24..28].copy_from_slice(&coarse(fix.lon_deg).to_le_bytes());
        pvt[28..32].copy_from_slice(&coarse(fix.lat_deg).to_le_bytes());
        pvt[32..36].copy_from_slice(&61_979i32.to_le_bytes());
        pvt[40..44].copy_from_slice(&21u32.to_le_bytes());
        message(&mut bytes, [0x01, 0x07], &pvt);
        let mut fine = [0u8; 36];
        fine[4..8].copy_from_slice(&clock_ms.to_le_bytes());
        fine[8..12].copy_from_slice(&coarse(fix.lon_deg).to_le_bytes());
        fine[12..16].copy_from_slice(&coarse(fix.lat_deg).to_le_bytes());
        (fine[24], fine[25]) = (rest(fix.lon_deg) as u8, rest(fix.lat_deg) as u8);
        fine[28..32].copy_from_slice(&212u32.to_le_bytes());
        message(&mut bytes, [0x01, 0x14], &fine);
        let mut dop = [0u8; 18];
        dop[0..4].copy_from_slice(&clock_ms.to_le_bytes());
        dop[12..14].copy_from_slice(&70u16.to_le_bytes());
        message(&mut bytes, [0x01, 0x04], &dop);
    }
    bytes
}
