//! NMEA as receivers send it and as logs tear it. Sentences and their values: gpsd's NMEA notes and receiver
//! makers' examples, as cited; the rollover pair was made here.

use approx::assert_abs_diff_eq;
use boundwalk::fix::{Quality, Source};
use boundwalk::read::{Input, Log, Options, Order, read, read_with};

fn input(text: impl AsRef<[u8]>) -> Input {
    Input::Bytes {
        name: "log".into(),
        bytes: text.as_ref().to_vec(),
    }
}

fn log(text: impl AsRef<[u8]>) -> Log {
    match read(&[input(text)]) {
        Ok(log) => log,
        Err(fault) => panic!("{fault}"),
    }
}

fn codes(log: &Log) -> Vec<&str> {
    log.warnings.iter().map(|w| w.code()).collect()
}

fn dropped(log: &Log, reason: &str) -> u64 {
    log.dropped
        .iter()
        .filter(|d| d.reason.to_string() == reason)
        .map(|d| d.count)
        .sum()
}

/// A sentence with its right checksum.
fn sealed(body: &str) -> String {
    let sum = body.bytes().fold(0, |a, b| a ^ b);
    format!("${body}*{sum:02X}\r\n")
}

/// A GGA a few metres from 51.5 N 0.125 W; `north_m` moves it north.
fn gga(talker: &str, time: &str, north_m: f64, quality: u8, satellites: u8) -> String {
    let minutes = 30.0 + north_m / 1852.0;
    sealed(&format!(
        "{talker}GGA,{time},51{minutes:010.7},N,00007.5000000,W,{quality},{satellites:02},0.8,30.0,M,45.9,M,,"
    ))
}

#[test]
fn known_sentences() {
    // The classic pair, from memory.
    let l = log(
        "$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47\r\n\
         $GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W*6A\r\n",
    );
    let fix = &l.fixes[0];
    assert_eq!(l.fixes.len(), 1);
    assert_abs_diff_eq!(fix.lat_deg, 48.1173, epsilon = 1e-9);
    assert_abs_diff_eq!(fix.lon_deg, 11.516_666_667, epsilon = 1e-9);
    assert_abs_diff_eq!(fix.height_m.unwrap(), 592.3, epsilon = 1e-9);
    assert_eq!(fix.satellites, Some(8));
    assert_eq!(fix.date.unwrap().to_string(), "1994-03-23");
    assert_eq!(l.files[0].first_time, "1994-03-23T12:35:19Z");
    // gpsd's NMEA notes: the short GGA, and the southern one.
    let l = log("$GNGGA,001043.00,4404.14036,N,12118.85961,W,1,12,0.98,1113.0,M,-21.3,M*47\r\n");
    assert_abs_diff_eq!(l.fixes[0].lat_deg, 44.069_006_0, epsilon = 1e-9);
    assert_abs_diff_eq!(l.fixes[0].lon_deg, -121.314_326_833_3, epsilon = 1e-9);
    let l = log("$GNGGA,003956.00,4552.65403,S,17030.00668,E,1,12,0.64,14.2,M,1.8,M,,*56\r\n");
    assert_abs_diff_eq!(l.fixes[0].lat_deg, -45.877_567_166_7, epsilon = 1e-9);
    assert_abs_diff_eq!(l.fixes[0].lon_deg, 170.500_111_333_3, epsilon = 1e-9);
    // RTK fixed and longer than the standard's 82 bytes; mode F under status A; mode letters of GNS.
    let l = log(
        "$GNGGA,133900.00,4134.50180323,N,09345.03586581,W,4,19,0.7,280.827,M,-31.442,M,6.0,0002*61\r\n",
    );
    assert_eq!(l.fixes[0].quality, Quality::RtkFixed);
    let l =
        log("$GNRMC,003832.000,A,4404.1271062,N,12118.8438377,W,000.0,171.0,290322,,,F,V*10\r\n");
    assert_eq!(
        (l.fixes[0].quality, l.fixes[0].source),
        (Quality::RtkFloat, Source::RMC)
    );
    let l = log("$GNGNS,103600.01,5114.51176,N,00012.29380,W,ANNN,07,1.18,111.5,45.6,,,V*00\r\n");
    assert_eq!(
        (l.fixes[0].quality, l.fixes[0].source),
        (Quality::Autonomous, Source::GNS)
    );
    let l = log("$GNGLL,4404.14012,N,12118.85993,W,001037.00,A,A*67\r\n");
    assert_eq!(
        (l.fixes[0].quality, l.fixes[0].source),
        (Quality::Autonomous, Source::GLL)
    );
}

#[test]
fn accuracy_joins_its_epoch() {
    // GST's latitude and longitude sigmas: gpsd's NMEA notes, a consistent real sentence.
    let text = gga("GP", "172814.0", 0.0, 4, 12)
        + "$GPGST,172814.0,0.006,0.023,0.020,273.6,0.023,0.020,0.031*6A\r\n";
    let l = log(&text);
    assert_eq!(l.fixes[0].sigma_north_m, Some(0.023));
    assert_eq!(l.fixes[0].sigma_east_m, Some(0.020));
    // GBS stands in; one with another layout (a unit after each value) doesn't.
    let l =
        log(gga("GP", "082941.00", 0.0, 1, 9)
            + "$GPGBS,082941.00,2.4,1.5,3.9,25,,-43.7,27.5*65\r\n");
    assert_eq!(l.fixes[0].sigma_north_m, Some(2.4));
    assert_eq!(l.fixes[0].sigma_east_m, Some(1.5));
    let l = log(gga("GP", "125027", 0.0, 1, 9) + "$GPGBS,125027,23.43,M,13.91,M,34.01,M*07\r\n");
    assert_eq!(l.fixes[0].sigma_north_m, None);
    // Written after the next epoch has begun.
    let l = log(gga("GN", "172814.00", 0.0, 4, 12)
        + &gga("GN", "172815.00", 1.0, 4, 12)
        + &sealed("GNGST,172814.00,,,,,0.011,0.012,0.031")
        + &sealed("GNGST,172815.00,,,,,0.021,0.022,0.031"));
    assert_eq!(l.fixes.len(), 2);
    assert_eq!(l.fixes[0].sigma_east_m, Some(0.012));
    assert_eq!(l.fixes[1].sigma_east_m, Some(0.022));
}

#[test]
fn midnight_and_leap_second() {
    let pair = "$GNGGA,235959.00,5130.00000,N,00007.50000,W,1,12,0.80,30.0,M,45.9,M,,*64\r\n\
        $GNRMC,235959.00,A,5130.00000,N,00007.50000,W,1.900,90.0,311223,,,A,V*1D\r\n\
        $GNGGA,000000.00,5130.00010,N,00007.50000,W,1,12,0.80,30.0,M,45.9,M,,*64\r\n\
        $GNRMC,000000.00,A,5130.00010,N,00007.50000,W,1.900,90.0,010124,,,A,V*1B\r\n";
    let l = log(pair);
    assert_eq!(l.fixes[0].clock_s, Some(86_399.0));
    assert_eq!(l.fixes[1].clock_s, Some(86_400.0));
    assert_eq!(l.fixes[1].date.unwrap().to_string(), "2024-01-01");
    assert_eq!(l.files[0].last_time, "2024-01-01T00:00:00Z");
    // Without the second RMC the day must still turn; and the first fix takes the date that follows it.
    let lines: Vec<&str> = pair.lines().collect();
    let l = log([lines[0], lines[1], lines[2], ""].join("\r\n"));
    assert_eq!(l.fixes[1].date.unwrap().to_string(), "2024-01-01");
    let l = log([lines[0], lines[2], lines[3], ""].join("\r\n"));
    assert_eq!(l.fixes[0].date.unwrap().to_string(), "2023-12-31");
    // 2016 ended with 23:59:60.
    let l = log(gga("GP", "235959", 0.0, 1, 9)
        + &gga("GP", "235960", 1.0, 1, 9)
        + &gga("GP", "000000", 2.0, 1, 9));
    let clocks: Vec<f64> = l.fixes.iter().filter_map(|f| f.clock_s).collect();
    assert_eq!(clocks, [86_399.0, 86_400.0, 86_401.0]);
    // The last record of the day before, written late: not a day later.
    let l = log(gga("GP", "000000", 0.0, 1, 9) + &gga("GP", "235959", 1.0, 1, 9));
    let clocks: Vec<f64> = l.fixes.iter().filter_map(|f| f.clock_s).collect();
    assert_eq!(clocks, [-1.0, 0.0]);
}

#[test]
fn clocks_that_run_back_or_stand() {
    let back = gga("GP", "120000", 0.0, 1, 9)
        + &gga("GP", "120001", 1.0, 1, 9)
        + &gga("GP", "113000", 2.0, 1, 9)
        + &gga("GP", "113001", 3.0, 1, 9);
    let l = log(back);
    let clocks: Vec<f64> = l.fixes.iter().filter_map(|f| f.clock_s).collect();
    assert_eq!(clocks, [43_200.0, 43_201.0, 43_202.0, 43_203.0]);
    assert!(codes(&l).contains(&"clock-backwards"));
    // One record late: put back in its place.
    let late = gga("GP", "120000", 0.0, 1, 9)
        + &gga("GP", "120002", 2.0, 1, 9)
        + &gga("GP", "120001", 1.0, 1, 9)
        + &gga("GP", "120003", 3.0, 1, 9);
    let l = log(late);
    assert!(l.fixes.windows(2).all(|w| w[0].lat_deg < w[1].lat_deg));
    assert_eq!(l.fixes[1].line, 3);
    // Five fixes a second under whole seconds: all kept, spread out.
    let mut coarse = String::new();
    for i in 0..20 {
        coarse += &gga("GP", &format!("1200{:02}", i / 5), 0.2 * f64::from(i), 1, 9);
    }
    let l = log(coarse);
    assert_eq!(l.fixes.len(), 20);
    let clocks: Vec<f64> = l.fixes.iter().filter_map(|f| f.clock_s).collect();
    assert_abs_diff_eq!(clocks[7] - 43_200.0, 1.4, epsilon = 1e-6);
    assert!(codes(&l).contains(&"times-repeated"));
    // Every sentence written twice is one fix.
    let one = gga("GP", "120000", 0.0, 1, 9);
    let l = log(one.repeat(2));
    assert_eq!((l.fixes.len(), dropped(&l, "record repeated")), (1, 1));
}

#[test]
fn torn_merged_and_mangled_lines() {
    let a = gga("GP", "120000", 0.0, 1, 9);
    let b = gga("GP", "120001", 1.0, 1, 9);
    // Torn by the next sentence.
    let l = log(format!("{}{b}", &a[..30]));
    assert_eq!((l.fixes.len(), dropped(&l, "sentence torn")), (1, 1));
    // Merged on one line, prefixed, suffixed, blank lines, odd line ends, comments, binary.
    let text = format!(
        "x,{},17\r\r\n\r\n# note $5\r\n{}",
        a.trim_end(),
        b.trim_end()
    );
    let mut bytes = text.into_bytes();
    bytes.extend_from_slice(&[0xb5, 0x62, b'$', 0x80, 0, b'\n', b'$']);
    bytes.extend_from_slice(&gga("GP", "120002", 2.0, 1, 9).into_bytes());
    let l = log(&bytes);
    assert_eq!(l.fixes.len(), 3);
    assert_eq!(
        l.fixes.iter().map(|f| f.line).collect::<Vec<_>>(),
        [1, 4, 5]
    );
    assert!(l.dropped.is_empty(), "{:?}", l.dropped);
    // Only carriage returns.
    let l = log(format!("{a}{b}").replace("\r\n", "\r"));
    assert_eq!(l.fixes[1].line, 2);
    // Lower-case talker, UTF-16, byte-order mark.
    let lower = sealed(&a.trim_end()[1..a.trim_end().len() - 3].to_ascii_lowercase());
    assert_eq!(log(&lower).fixes.len(), 1);
    let utf16: Vec<u8> = a.encode_utf16().flat_map(u16::to_le_bytes).collect();
    assert_eq!(log([vec![0xff, 0xfe], utf16].concat()).fixes.len(), 1);
    assert_eq!(
        log([b"\xef\xbb\xbf".to_vec(), a.clone().into_bytes()].concat())
            .fixes
            .len(),
        1
    );
    // An endless sentence between two good ones.
    let long = format!("{a}$GPTXT,{}\r\n{b}", "x".repeat(3_000_000));
    let l = log(long);
    assert_eq!(l.fixes.len(), 2);
    assert!(dropped(&l, "sentence too long") >= 1);
}

#[test]
fn checksum_policy() {
    let good = |i: usize| gga("GP", &format!("1200{i:02}"), i as f64, 1, 9);
    let spoilt = |i: usize| {
        let text = good(i);
        let at = text.find('*').unwrap();
        let digit = if &text[at + 1..at + 2] == "0" {
            "1"
        } else {
            "0"
        };
        format!("{}{digit}{}", &text[..=at], &text[at + 2..])
    };
    // Single failures are dropped with their line.
    let text: String = (0..20)
        .map(|i| if i == 7 { spoilt(i) } else { good(i) })
        .collect();
    let l = log(text);
    assert_eq!((l.fixes.len(), dropped(&l, "wrong checksum")), (19, 1));
    assert_eq!(l.dropped[0].first, ["log line 8"]);
    // All of one type wrong, another right: used, with a warning.
    let rmc = |i: usize| {
        sealed(&format!(
            "GPRMC,1200{i:02},A,5130.0000,N,00007.5000,W,0.1,,110526,,,A"
        ))
    };
    let text: String = (0..10).map(|i| spoilt(i) + &rmc(i)).collect();
    let l = log(text);
    assert!(codes(&l).contains(&"checksums-broken"));
    assert!(l.fixes.iter().all(|f| f.source == Source::GGA));
    // The first part misleads: so many right ones come later that the wrong ones were damage.
    let mut text: String = (0..5).map(|i| spoilt(i) + &rmc(i)).collect();
    for i in 0..4000 {
        text += &sealed(&format!(
            "GPGSV,3,1,09,07,38,351,00,08,60,306,31,11,73,114,35,17,36,{i:04},46"
        ));
    }
    text += &good(30);
    let l = log(text);
    assert_eq!(dropped(&l, "wrong checksum"), 5);
    // None at all: used, with a warning.
    let bare: String = (0..10)
        .map(|i| format!("{}\r\n", good(i).split('*').next().unwrap()))
        .collect();
    let l = log(bare);
    assert!(codes(&l).contains(&"checksums-missing"));
    assert_eq!(l.fixes.len(), 10);
    // Every one wrong: nothing can be trusted.
    let text: String = (0..10).map(spoilt).collect();
    let fault = read(&[input(text)]).unwrap_err();
    assert_eq!(fault.code(), "no-fixes");
    assert!(fault.what().contains("wrong checksum"), "{fault}");
}

#[test]
fn qualities_that_are_no_measurement() {
    let text = gga("GP", "120000", 0.0, 1, 9)
        + &gga("GP", "120001", 1.0, 6, 9)
        + "$GPGGA,,,,,,0,,,,,,,,*66\r\n$GPRMC,,V,,,,,,,,,,N*53\r\n";
    let l = log(text);
    assert_eq!(l.fixes.len(), 1);
    assert_eq!(dropped(&l, "dead reckoning, not measured"), 1);
    assert_eq!(dropped(&l, "receiver had no valid position"), 1);
    for quality in [7, 8] {
        let text = gga("GP", "120000", 0.0, 1, 9) + &gga("GP", "120001", 0.0, quality, 9);
        let fault = read(&[input(&text)]).unwrap_err();
        assert_eq!(fault.code(), "simulated");
        assert!(fault.to_string().contains("line 2"), "{fault}");
        let options = Options {
            keep_all: true,
            ..Options::default()
        };
        assert_eq!(read_with(&[input(&text)], &options).unwrap().fixes.len(), 2);
    }
}

#[test]
fn two_engines_never_alternate() {
    // Five metres apart in the same epochs: the better quality is used throughout.
    let mut text = String::new();
    for i in 0..30 {
        let time = format!("1200{i:02}.00");
        text += &gga("GP", &time, f64::from(i), 1, 7);
        text += &gga("GN", &time, f64::from(i) + 5.0, 4, 18);
    }
    let l = log(text);
    assert_eq!(l.fixes.len(), 30);
    assert!(l.fixes.iter().all(|f| f.quality == Quality::RtkFixed));
    assert!(codes(&l).contains(&"two-engines"));
    assert_eq!(
        dropped(&l, "position of another engine in the same receiver"),
        30
    );
    // And at times of their own, between each other.
    let mut text = String::new();
    for i in 0..30 {
        text += &gga("GN", &format!("1200{i:02}.00"), f64::from(i), 1, 12);
        text += &gga("GP", &format!("1200{i:02}.50"), f64::from(i) + 5.5, 1, 7);
    }
    let l = log(text);
    assert_eq!(l.fixes.len(), 30);
    assert!(l.fixes.iter().all(|f| f.satellites == Some(12)));
    // Talkers that agree are one fix per epoch, without a warning.
    let mut text = String::new();
    for i in 0..30 {
        let time = format!("1200{i:02}.00");
        text += &gga("GP", &time, f64::from(i), 1, 7);
        text += &gga("GA", &time, f64::from(i), 1, 3);
    }
    let l = log(text);
    assert_eq!(l.fixes.len(), 30);
    assert!(l.warnings.is_empty());
    // RMC each second with GGA every fifth: one fix a second.
    let mut text = String::new();
    for i in 0..30 {
        let time = format!("1200{i:02}.00");
        if i % 5 == 0 {
            text += &gga("GN", &time, 0.0, 4, 18);
        }
        text += &sealed(&format!(
            "GNRMC,{time},A,5130.0000000,N,00007.5000000,W,0.1,,110526,,,R"
        ));
    }
    let l = log(text);
    assert_eq!(l.fixes.len(), 30);
    assert!(l.fixes.iter().all(|f| f.quality == Quality::RtkFixed));
}

#[test]
fn several_files_are_one_survey() {
    let first = gga("GP", "120000", 0.0, 1, 9) + &gga("GP", "120001", 1.0, 1, 9);
    let second = gga("GP", "115000", 2.0, 1, 9) + &gga("GP", "115001", 3.0, 1, 9);
    let given = read(&[input(&first), input(&second)]).unwrap();
    assert!(codes(&given).contains(&"files-order"));
    assert_eq!(given.fixes[2].file, 1);
    let options = Options {
        order: Order::ByTime,
        ..Options::default()
    };
    let sorted = read_with(&[input(&first), input(&second)], &options).unwrap();
    assert_eq!(sorted.fixes[0].file, 1);
    assert!(sorted.warnings.is_empty());
    assert_eq!(sorted.files.len(), 2);
}

/// Two people who walk a part of the edge each at the same time are no lap recorded twice.
#[test]
fn two_walkers_at_once_are_two() {
    let from = |m: f64| -> String {
        (0..40)
            .map(|s| gga("GP", &format!("1200{s:02}"), m + f64::from(s), 1, 9))
            .collect()
    };
    let both = read(&[input(from(0.0)), input(from(60.0))]).unwrap();
    assert_eq!((both.fixes.len(), codes(&both)), (80, vec!["files-order"]));
    let near = read(&[input(from(0.0)), input(from(2.0))]).unwrap();
    assert_eq!(near.fixes.len(), 40);
    assert_eq!(codes(&near), ["recorded-together"]);
}

#[test]
fn reading_is_bounded() {
    let mut text = String::new();
    for i in 0..60 {
        text += &gga("GP", &format!("1200{i:02}"), f64::from(i), 1, 9);
    }
    let options = Options {
        max_fixes: Some(10),
        ..Options::default()
    };
    let l = read_with(&[input(text)], &options).unwrap();
    assert_eq!(l.fixes.len(), 10);
    assert!(codes(&l).contains(&"stopped"));
    for junk in [
        vec![0u8; 3_000_000],
        vec![b'\n'; 3_000_000],
        vec![b'x'; 3_000_000],
    ] {
        let fault = read(&[input(junk)]).unwrap_err();
        assert_eq!(fault.code(), "not-a-log");
    }
}

/// NMEA 0183: latitude is ddmm.mmmm, longitude dddmm.mmmm (gpsd's NMEA notes). Small longitudes are legal latitudes, so
/// an exchange would go unseen but for the number of digits.
#[test]
fn an_exchanged_latitude_and_longitude_is_refused() {
    let exchanged: String = (0..5)
        .map(|s| {
            sealed(&format!(
                "GPGGA,12000{s}.00,00112.{s}000000,N,5206.{s}000000,E,4,14,0.8,30.0,M,45.9,M,,"
            ))
        })
        .collect();
    let fault = read(&[input(exchanged)]).expect_err("exchanged positions are read");
    assert!(fault.to_string().contains("exchanged"), "{fault}");
}

/// Loggers and terminals put a time or a tag before each line, in brackets of any kind.
#[test]
fn a_bracketed_prefix_is_no_drawing() {
    for prefix in ["[12:00:00.123] RX> ", "<13>May 14 box: ", "<RX> ", "{7} "] {
        let lines: String = (0..9)
            .map(|i| {
                let body =
                    format!("GPGGA,12351{i},4807.03{i},N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,");
                let sum = body.bytes().fold(0, |sum, b| sum ^ b);
                format!("{prefix}${body}*{sum:02X}\r\n")
            })
            .collect();
        assert_eq!(log(lines).fixes.len(), 9, "{prefix}");
    }
}

#[test]
fn a_sentence_without_a_time_does_not_take_the_times_of_the_others() {
    let without = |gap: std::ops::Range<u32>| {
        let text: String = (0..60u32)
            .map(|i| {
                let time = match gap.contains(&i) {
                    true => String::new(),
                    false => format!("1200{i:02}.00"),
                };
                sealed(&format!(
                    "GPGGA,{time},5206.{i:04},N,00112.0000,E,1,08,0.9,80.0,M,46.9,M,,"
                ))
            })
            .collect();
        log(text)
    };
    let one = without(20..21);
    assert_eq!(one.fixes.len(), 59);
    let said = &one.warnings[0];
    assert_eq!(said.code(), "times-missing");
    assert!(said.to_string().contains("first at line 21"), "{said:?}");
    assert_eq!(without(0..0).fixes.len(), 60);
    assert_eq!(without(20..30).fixes.len(), 60);
}

/// A receiver may send nothing but RMC or GNS, at any rate; GNS has a mode letter for each constellation it knows.
#[test]
fn one_kind_of_sentence_is_enough() {
    let place = "5130.0000000,N,00007.5000000,W";
    for rate in [1, 10, 20] {
        let times = |i: u32| {
            let hundredths = i * 100 / rate;
            format!("1200{:02}.{:02}", hundredths / 100, hundredths % 100)
        };
        let all = |body: &dyn Fn(String) -> String| {
            log((0..50).map(|i| sealed(&body(times(i)))).collect::<String>())
        };
        let l = all(&|time| format!("GNRMC,{time},A,{place},0.1,,140526,,,R,V"));
        assert_eq!((l.fixes.len(), l.warnings.len()), (50, 0), "{rate} Hz");
        assert_abs_diff_eq!(
            l.fixes[49].clock_s.unwrap() - l.fixes[0].clock_s.unwrap(),
            f64::from(4_900 / rate) / 100.0,
            epsilon = 1e-6
        );
        for (modes, quality) in [
            ("A", Quality::Autonomous),
            ("DN", Quality::Differential),
            ("AANN", Quality::Autonomous),
            ("NRFANN", Quality::RtkFixed),
            ("NNNNNNNNF", Quality::RtkFloat),
        ] {
            let l = all(&|time| format!("GNGNS,{time},{place},{modes},14,0.8,30.0,45.9,,,V"));
            assert_eq!((l.fixes.len(), l.warnings.len()), (50, 0), "{modes}");
            assert!(l.fixes.iter().all(|f| f.quality == quality), "{modes}");
            assert!(l.dropped.is_empty(), "{:?}", l.dropped);
        }
    }
}

/// A receiver that has just been switched on is 1024 weeks in the past, or anywhere, until it has heard the date.
#[test]
fn absurd_dates_neither_sort_nor_drop_anything() {
    let dates = ["060180", "280906", "280906", "140526", "010199", "140526"];
    let text: String = (0..60)
        .map(|i| {
            let date = dates[i / 10];
            let zda = sealed(&format!("GNZDA,1200{i:02}.00,14,05,7510,00,00"));
            let rmc = format!("GNRMC,1200{i:02}.00,A,5130.{i:05},N,00007.50000,W,0.1,,{date},,,A");
            sealed(&rmc) + &zda
        })
        .collect();
    let l = log(text);
    let clocks: Vec<f64> = l.fixes.iter().filter_map(|f| f.clock_s).collect();
    let run_on: Vec<f64> = (0..60).map(|i| f64::from(43_200 + i)).collect();
    assert_eq!(clocks, run_on);
    assert!(l.fixes.windows(2).all(|w| w[0].lat_deg < w[1].lat_deg));
    assert_eq!(l.fixes[0].date.unwrap().to_string(), "1980-01-06");
    assert_eq!(l.fixes[59].date.unwrap().to_string(), "2026-05-14");
}
