//! The plane against published values, geodesic areas and its own laws.

use boundwalk::plane::laea::{Ellipsoid, Laea};
use boundwalk::plane::{Plane, middle};
use geo::Coord;
use geographiclib_rs::{DirectGeodesic, Geodesic, InverseGeodesic, PolygonArea, Winding};
use proptest::prelude::*;

/// The accuracy GeographicLib states for areas of polygons with a perimeter under 10 km, square metres.
const GEODESIC_AREA_ACCURACY_M2: f64 = 0.0013;

type Place = (f64, f64);

/// Unsigned area, taken from the first vertex so that large coordinates cost no digits.
fn plane_area(plane: &Plane, ring: &[Place]) -> f64 {
    let points: Vec<Coord<f64>> = ring
        .iter()
        .map(|&(lat, lon)| plane.forward(lat, lon))
        .collect();
    let first = points[0];
    let mut twice = 0.0;
    for pair in points.windows(2) {
        let (a, b) = (pair[0] - first, pair[1] - first);
        twice += a.x * b.y - b.x * a.y;
    }
    f64::abs(twice / 2.0)
}

fn geodesic_area(ring: &[Place]) -> f64 {
    let wgs84 = Geodesic::wgs84();
    let mut polygon = PolygonArea::new(&wgs84, Winding::CounterClockwise);
    for &(lat, lon) in ring {
        polygon.add_point(lat, lon);
    }
    polygon.compute(true).1.abs()
}

/// The same ring with every geodesic side cut in `parts`.
fn densified(ring: &[Place], parts: u32) -> Vec<Place> {
    let wgs84 = Geodesic::wgs84();
    let mut dense = Vec::new();
    for (i, &from) in ring.iter().enumerate() {
        let to = ring[(i + 1) % ring.len()];
        let (length, azimuth, _, _): (f64, f64, f64, f64) =
            wgs84.inverse(from.0, from.1, to.0, to.1);
        dense.push(from);
        for part in 1..parts {
            dense.push(wgs84.direct(
                from.0,
                from.1,
                azimuth,
                length * f64::from(part) / f64::from(parts),
            ));
        }
    }
    dense
}

fn plane_about(ring: &[Place]) -> Plane {
    let (lat, lon) = middle(ring.iter().copied()).unwrap();
    Plane::new(lat, lon, 0.0).unwrap()
}

/// EPSG:3035, ETRS89 / LAEA Europe.
fn epsg_3035() -> Laea {
    Laea::new(Ellipsoid::GRS80, 52.0, 10.0, 4_321_000.0, 3_210_000.0)
}

/// IOGP GIGS test 5110 (Lambert azimuthal equal area), the values printed to 1 mm.
#[test]
fn published_values_of_epsg_3035() {
    let laea = epsg_3035();
    for (lat, lon, easting, northing) in [
        (50.0, 5.0, 3962799.451, 2999718.853),
        (70.0, 5.0, 4127824.658, 5214090.649),
        (60.0, 5.0, 4041548.125, 4109791.660),
        (40.0, 5.0, 3892127.020, 1892578.962),
        (50.0, 0.0, 3606514.431, 3036305.967),
        (52.0, 10.0, 4_321_000.0, 3_210_000.0),
    ] {
        let at = laea.forward(lat, lon);
        assert!(
            (at.x - easting).abs() < 0.00051,
            "{lat} {lon}: {} {easting}",
            at.x
        );
        assert!(
            (at.y - northing).abs() < 0.00051,
            "{lat} {lon}: {} {northing}",
            at.y
        );
        let back = laea.inverse(Coord {
            x: easting,
            y: northing,
        });
        // 1 mm is 9e-9 degrees of latitude
        assert!(
            (back.0 - lat).abs() < 1e-8 && (back.1 - lon).abs() < 2e-8,
            "{back:?}"
        );
    }
}

/// Radii of curvature, `M` and `N` of WGS 84 from the textbook formulas, recomputed for this project.
#[test]
fn radii_of_curvature() {
    for (lat, m, n) in [
        (0.0, 6335439.3273, 6_378_137.0),
        (45.0, 6367381.8156, 6388838.2901),
        (52.0, 6375149.7413, 6391435.2682),
        (60.0, 6383453.8572, 6394209.1738),
    ] {
        assert!((Ellipsoid::WGS84.meridian_radius_m(lat) - m).abs() < 1e-4);
        assert!((Ellipsoid::WGS84.normal_radius_m(lat) - n).abs() < 1e-4);
    }
}

/// Cells of 0.001 x 0.001 degrees, south-west corner and area. The values are geodesic areas recomputed for this
/// project (= M N cos φ Δφ Δλ at the middle, to 1e-6); the library's own figure is checked beside them.
#[test]
fn small_cells_all_over_the_globe() {
    for (lat, lon, area) in [
        (0.0, 0.0, 12309.072079),
        (30.0, 31.0, 10695.687028),
        (45.0, 7.0, 8762.313488),
        (51.5, -0.12, 7725.717572),
        (52.0, 5.0, 7641.536594),
        (60.0, 25.0, 6216.712480),
        (-33.9, 151.2, 10259.425556),
        (-45.8776, 170.5001, 8629.004516),
        (10.0, 179.9995, 12126.946851),
    ] {
        let (north, east) = (lat + 0.001, lon + 0.001);
        let ring = [(lat, lon), (lat, east), (north, east), (north, lon)];
        let measured = plane_area(&plane_about(&ring), &ring);
        assert!(
            (measured - area).abs() < GEODESIC_AREA_ACCURACY_M2,
            "{lat} {lon}: {measured} {area}"
        );
        let geodesic = geodesic_area(&ring);
        assert!(
            (measured - geodesic).abs() < GEODESIC_AREA_ACCURACY_M2,
            "{lat} {lon}: {measured} {geodesic}"
        );
    }
}

/// Invented gardens (London, Sydney, Tromsø, across the antimeridian), coordinates to 1e-9 degree; their geodesic
/// areas were computed for this project with GeographicLib.
#[test]
fn gardens_all_over_the_globe() {
    let gardens: [(&[Place], f64); 4] = [
        (
            &[
                (51.500825692, -0.124564490),
                (51.500752580, -0.124454081),
                (51.500686761, -0.124357549),
                (51.500614622, -0.124485216),
                (51.500560684, -0.124600000),
                (51.500631360, -0.124709977),
                (51.500700000, -0.124849138),
                (51.500783312, -0.124712008),
            ],
            527.4353,
        ),
        (
            &[
                (-33.856529534, 151.215300000),
                (-33.856532252, 151.215620927),
                (-33.856800000, 151.215624186),
                (-33.857067747, 151.215620929),
                (-33.857070466, 151.215300000),
                (-33.857067747, 151.214979071),
                (-33.856800000, 151.214975814),
                (-33.856532252, 151.214979073),
            ],
            3563.8245,
        ),
        (
            &[
                (69.649663286, 18.955784487),
                (69.649016042, 18.956752085),
                (69.648820947, 18.954903617),
                (69.649414602, 18.953605869),
            ],
            6500.0029,
        ),
        (
            &[
                (-16.799686980, -179.999812380),
                (-16.800180722, -179.999675031),
                (-16.800313020, 179.999812379),
                (-16.799819278, 179.999675032),
            ],
            3200.0001,
        ),
    ];
    for (ring, area) in gardens {
        let measured = plane_area(&plane_about(ring), ring);
        // the fixture carries 1e-4; the library 0.0013
        assert!((measured - area).abs() < 1e-3, "{measured} {area}");
        assert!((measured - geodesic_area(ring)).abs() < GEODESIC_AREA_ACCURACY_M2);
    }
}

/// Rings up to 8 km round, sides cut in short pieces because a long straight side on the plane is no geodesic.
#[test]
fn large_rings_follow_the_ellipsoid() {
    for (lat, lon) in [
        (0.0, 10.0),
        (52.0, -1.2),
        (-45.0, 170.5),
        (69.6, 18.9),
        (89.995, 0.0),
        (-89.995, 77.0),
        (12.0, 179.998),
    ] {
        let ring: Vec<Place> = (0..5)
            .map(|k| Geodesic::wgs84().direct(lat, lon, -72.0 * f64::from(k), 1_300.0))
            .collect();
        let dense = densified(&ring, 64);
        let plane = plane_about(&ring);
        let (measured, geodesic) = (
            plane_area(&plane, &[&dense[..], &dense[..1]].concat()),
            geodesic_area(&ring),
        );
        assert!(geodesic > 4e6);
        // round a pole the library adds half of the ellipsoid, where a double's last digit is worth 0.03 m²
        let tolerance = if lat.abs() > 89.0 {
            0.1
        } else {
            GEODESIC_AREA_ACCURACY_M2
        };
        assert!(
            (measured - geodesic).abs() < tolerance,
            "{lat} {lon}: {measured} {geodesic}"
        );
    }
}

/// A lawn that surrounds the pole: the ring of four places of GeographicLib's own polygon tests ("pole-encircling",
/// 89° north and south, 24 952 305 678 m²), its geodesic sides cut in pieces of some 300 m.
#[test]
fn ring_around_each_pole() {
    for lat in [89.0, -89.0] {
        let ring: Vec<Place> = [0.0, 90.0, 180.0, 270.0].map(|lon| (lat, lon)).to_vec();
        let plane = Plane::new(90f64.copysign(lat), 0.0, 0.0).unwrap();
        let area = |parts| {
            let dense = densified(&ring, parts);
            plane_area(&plane, &[&dense[..], &dense[..1]].concat())
        };
        // The chords' shortfall goes with the square of their length: two steps of it take it out.
        let (coarse, fine) = (area(256), area(512));
        let measured = fine + (fine - coarse) / 3.0;
        assert!((measured - 24_952_305_678.0).abs() < 1.0, "{measured}");
    }
}

/// Ground area grows by (1 + h/R)²: +31.4, +157.0, +313.9, +879.2 ppm at 100, 500, 1000 and 2800 m
/// (surveyors' common "elevation factor", squared; with a mean radius of 6371 km).
#[test]
fn height_factor() {
    for (height, ppm) in [
        (100.0, 31.4),
        (500.0, 157.0),
        (1000.0, 313.9),
        (2800.0, 879.2),
    ] {
        let at_sea = Plane::new(47.0, 11.0, 0.0).unwrap();
        let plane = Plane::new(47.0, 11.0, height).unwrap();
        let grown = (plane.height_factor.powi(2) - 1.0) * 1e6;
        // the mean radius is 0.2 % off Gauss's radius at this latitude
        assert!((grown / ppm - 1.0).abs() < 0.003, "{height}: {grown} {ppm}");
        let ring = [(47.0, 11.0), (47.0, 11.001), (47.001, 11.001)];
        let ratio = plane_area(&plane, &[ring[0], ring[1], ring[2], ring[0]])
            / plane_area(&at_sea, &[ring[0], ring[1], ring[2], ring[0]]);
        assert!((ratio - plane.height_factor.powi(2)).abs() < 1e-10);
        // and the true growth over the patch, (1 + h/M)(1 + h/N)
        let wgs84 = Ellipsoid::WGS84;
        let truly = (1.0 + height / wgs84.meridian_radius_m(47.0))
            * (1.0 + height / wgs84.normal_radius_m(47.0));
        assert!((plane.height_factor.powi(2) - truly).abs() < 1e-8);
    }
}

#[test]
fn proj_string_names_the_plane() {
    let plane = Plane::new(-16.8, 180.0, 20.0).unwrap();
    assert_eq!(
        plane.proj_string(),
        "+proj=laea +lat_0=-16.8 +lon_0=-180 +x_0=0 +y_0=0 +ellps=WGS84 +units=m +no_defs"
    );
}

/// The closed formulas of IOGP Guidance Note 7-2 (method 9820) for WGS 84, evaluated with fifty digits (mpmath), at sites
/// all over the globe and within metres of the poles, where in double precision they fall apart. (A longitude near 180° in a double is good to 3e-9 m.)
#[test]
fn formulas_in_fifty_digits() {
    for (lat0, lon0, lat, lon, x, y) in [
        (
            0.0,
            10.0,
            0.0001,
            10.0002,
            22.263898158566317,
            11.057427582174986,
        ),
        (0.0, 10.0, 3.25, 12.5, 277943.8040279691, 359407.54906270327),
        (
            51.5,
            -0.125,
            51.5002,
            -0.1247,
            20.832063890256634,
            22.251609638934855,
        ),
        (
            51.5,
            -0.125,
            50.0,
            5.0,
            367119.5745050639,
            -154105.20556053385,
        ),
        (
            -33.856,
            151.215,
            -33.8557,
            151.2156,
            55.524424572397734,
            33.27577437792073,
        ),
        (
            -16.8,
            179.9998,
            -16.8003,
            -179.9997,
            53.298981613756794,
            -33.20019656415984,
        ),
        (
            69.65,
            18.955,
            69.6488,
            18.9536,
            -54.35975607233826,
            -133.8684514907873,
        ),
        (
            -89.3,
            -180.0,
            -87.83183454434092,
            -48.196326512838,
            180528.16159667942,
            -239568.38252702993,
        ),
        (
            89.9999,
            0.0,
            89.9998,
            45.0,
            15.795914073298796,
            -4.62651611705608,
        ),
        (
            89.99999,
            30.0,
            89.99998,
            -120.0,
            -1.11693979594582,
            3.0515362715195136,
        ),
        (
            -89.9999,
            77.0,
            -89.9995,
            -100.0,
            -2.9228056134196585,
            -66.93985137723669,
        ),
    ] {
        let ours = Plane::new(lat0, lon0, 0.0).unwrap().forward(lat, lon);
        let off = (ours.x - x).hypot(ours.y - y);
        assert!(
            off < 1e-8,
            "{lat0} {lon0} {lat} {lon}: {ours:?}, off by {off}"
        );
    }
}

/// Against PROJ, the same projection by its own string: 1e-6 m at sites all over the globe, from the centre to 300 km away. Not
/// near the poles: there PROJ itself is off (3.004 m for 3 m at a pole; 2e-6 m at 89.3° and 300 km, against
/// the fifty digits above).
#[cfg(feature = "proj")]
#[test]
fn proj_agrees_to_a_micrometre() {
    for lat in [
        -78.0, -67.3, -33.86, 0.0, 12.3456789, 45.0, 51.5, 69.65, 78.2,
    ] {
        for lon in [-180.0, -123.4, -1.2, 0.0, 5.0, 99.0, 179.9999] {
            let plane = Plane::new(lat, lon, 0.0).unwrap();
            let theirs = proj::Proj::new(&format!(
                "+proj=pipeline +step +proj=unitconvert +xy_in=deg +xy_out=rad +step {}",
                plane.proj_string().replace(" +no_defs", "")
            ))
            .unwrap();
            for away_m in [0.0, 3.0, 80.0, 5_000.0, 300_000.0] {
                for azimuth in [0.0, 71.0, 143.0, 215.0, 287.0] {
                    let (lat2, lon2): (f64, f64) =
                        Geodesic::wgs84().direct(lat, lon, azimuth, away_m);
                    let ours = plane.forward(lat2, lon2);
                    let (x, y) = theirs.convert((lon2, lat2)).unwrap();
                    assert!(
                        (ours.x - x).hypot(ours.y - y) < 1e-6,
                        "{lat} {lon} {away_m} {azimuth}: {ours:?} {x} {y}"
                    );
                }
            }
        }
    }
}

proptest! {
    /// There and back within 1e-9 degrees (0.1 mm), and metres within a nanometre, anywhere within
    /// 20 km of any site; near a pole, where longitude means nothing, the metres still hold.
    #[test]
    fn round_trip(lat in -90.0..=90.0f64, lon in -180.0..180.0f64, height in -100.0..5000.0f64, x in -2e4..2e4f64, y in -2e4..2e4f64) {
        let plane = Plane::new(lat, lon, height).unwrap();
        let at = Coord { x, y };
        let (lat_back, lon_back) = plane.inverse(at);
        let again = plane.forward(lat_back, lon_back);
        prop_assert!((again.x - x).abs() < 5e-9 && (again.y - y).abs() < 5e-9, "{at:?} {again:?}");
        if lat_back.abs() < 89.0 {
            let once_more = plane.inverse(again);
            prop_assert!((once_more.0 - lat_back).abs() < 1e-9 && (once_more.1 - lon_back).abs() < 1e-9);
        }
    }

    /// Lengths near the site are geodesic lengths, and north is north.
    #[test]
    fn lengths_are_geodesic(lat in -89.9..89.9f64, lon in -180.0..180.0f64, azimuth in -180.0..180.0f64, length in 0.1..1000.0f64) {
        let plane = Plane::new(lat, lon, 0.0).unwrap();
        let (lat2, lon2) = Geodesic::wgs84().direct(lat, lon, azimuth, length);
        let at = plane.forward(lat2, lon2);
        // The scale changes with the distance s by n (2/3) s/R at most (the ellipsoid) and by s²/8R² (the sphere).
        let tolerance = 1e-8 + 9.5e-11 * length.powi(2) + 2e-9 * length.powi(3) / 1e6;
        prop_assert!((at.x.hypot(at.y) - length).abs() < tolerance, "{at:?} {length}");
        let seen = at.x.atan2(at.y).to_degrees();
        let turned = (seen - azimuth + 540.0).rem_euclid(360.0) - 180.0;
        prop_assert!(turned.to_radians().abs() * length < 1e-8 + 3.6e-10 * length.powi(2), "{seen} {azimuth}");
    }

    /// Quadrilaterals up to 300 m across, straight sides on the plane against geodesic sides.
    #[test]
    fn areas_are_geodesic(lat in -89.9..89.9f64, lon in -180.0..180.0f64, size in 1.0..150.0f64, turned in 0.0..360.0f64, squeeze in 0.1..1.0f64) {
        let ring: Vec<Place> = [(0.0, 1.0), (-80.0, squeeze), (-190.0, 1.0), (-250.0, squeeze)]
            .map(|(azimuth, part)| Geodesic::wgs84().direct(lat, lon, azimuth + turned, part * size)).to_vec();
        let measured = plane_area(&plane_about(&ring), &[&ring[..], &ring[..1]].concat());
        let geodesic = geodesic_area(&ring);
        prop_assert!((measured - geodesic).abs() < GEODESIC_AREA_ACCURACY_M2, "{measured} {geodesic}");
    }

    /// Area does not depend on where the plane's centre is put, within a few kilometres of the ring.
    #[test]
    fn area_does_not_depend_on_the_centre(lat in -89.0..89.0f64, lon in -180.0..180.0f64, north in -0.02..0.02f64, east in -0.02..0.02f64) {
        let here = Plane::new(lat, lon, 0.0).unwrap();
        let ring: Vec<Place> = [(0.0, 0.0), (30.0, 0.0), (35.0, 20.0), (0.0, 15.0), (0.0, 0.0)]
            .map(|(x, y)| here.inverse(Coord { x, y })).to_vec();
        let there = Plane::new(lat + north, lon + east, 0.0).unwrap();
        prop_assert!((plane_area(&here, &ring) - plane_area(&there, &ring)).abs() < 1e-5);
    }

    /// Nothing panics, whatever comes in.
    #[test]
    fn any_number_is_survived(lat in any::<f64>(), lon in any::<f64>(), height in any::<f64>(), x in any::<f64>(), y in any::<f64>()) {
        if let Ok(plane) = Plane::new(lat, lon, height) {
            let _ = plane.inverse(Coord { x, y });
        }
        let plane = Plane::new(90.0, 0.0, 0.0).unwrap();
        let _ = (plane.forward(lat, lon), plane.inverse(Coord { x, y }));
    }
}
