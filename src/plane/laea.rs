//! The Lambert azimuthal equal-area projection of an ellipsoid: EPSG coordinate operation method 9820. It maps latitude and longitude to
//! a plane on which every area is as large as on the ellipsoid, and shapes are true near the centre.
//!
//! It goes by way of the *authalic* latitude β: the latitude on a sphere of the ellipsoid's area with as much area between it and the
//! equator as on the ellipsoid. φ is latitude and λ longitude, both on the ellipsoid; the index 0 marks the centre.
//!
//! The formulas are those of IOGP Geomatics Guidance Note 7-2 (method 9820), which come from Snyder, *Map
//! Projections: A Working Manual* (USGS Professional Paper 1395, 1987), chapter 24. Deviations from them,
//! and what each buys:
//!
//! * The authalic latitude is a Fourier series in the third flattening n (Karney, "On auxiliary latitudes",
//!   2022; order 6, next term below 1e-17 rad) instead of `asin(q / qp)`, which keeps only half of the
//!   digits near a pole.
//! * Everything that shrinks towards the centre is written as a *difference* from the centre, so a ring of
//!   ten metres is as sharp, relative to its size, as one of ten kilometres.
//! * The factor D of the guidance note, 0/0 at a pole, is written through cos β / cos φ as a sum that is
//!   regular there, so poles need no case of their own.
//! * The inverse goes through the direction vector and `atan2`, which loses nothing near a pole.

use geo::Coord;

/// An ellipsoid of revolution.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ellipsoid {
    /// Semi-major axis, metres.
    pub semi_major_m: f64,
    /// 1/f, where the flattening f is by how much the axis from pole to pole is shorter, as a part of the semi-major axis.
    pub inverse_flattening: f64,
}

impl Ellipsoid {
    /// WGS 84 (EPSG ellipsoid 7030).
    pub const WGS84: Ellipsoid = Ellipsoid {
        semi_major_m: 6_378_137.0,
        inverse_flattening: 298.257_223_563,
    };
    /// GRS 1980 (EPSG ellipsoid 7019).
    pub const GRS80: Ellipsoid = Ellipsoid {
        semi_major_m: 6_378_137.0,
        inverse_flattening: 298.257_222_101,
    };

    /// Square of the first eccentricity, e² = f (2 − f).
    fn eccentricity2(&self) -> f64 {
        let f = 1.0 / self.inverse_flattening;
        f * (2.0 - f)
    }

    /// M, the radius of curvature in the meridian (along north and south), metres.
    #[must_use]
    pub fn meridian_radius_m(&self, lat_deg: f64) -> f64 {
        let e2 = self.eccentricity2();
        let s = lat_deg.to_radians().sin();
        self.semi_major_m * (1.0 - e2) / (1.0 - e2 * s * s).powf(1.5)
    }

    /// N, the radius of curvature in the prime vertical (along east and west), metres.
    #[must_use]
    pub fn normal_radius_m(&self, lat_deg: f64) -> f64 {
        let s = lat_deg.to_radians().sin();
        self.semi_major_m / (1.0 - self.eccentricity2() * s * s).sqrt()
    }

    /// Gauss's mean radius √(M N), metres: of all spheres the one whose areas agree with the ellipsoid's here.
    pub(crate) fn gauss_radius_m(&self, lat_deg: f64) -> f64 {
        (self.meridian_radius_m(lat_deg) * self.normal_radius_m(lat_deg)).sqrt()
    }
}

/// Terms of the authalic series.
const ORDER: usize = 6;

/// C₂ₖ in β = φ + Σ C₂ₖ sin 2kφ, k = 1 to 6: the coefficients of n, n², …, n⁶ of each, from Karney (2022),
/// table of "geographic to authalic". Written down from memory; the tests hold the sum against the closed
/// form of the guidance note to 2e-15 rad / cos φ, all that the closed form itself is good for.
const AUTHALIC: [[f64; ORDER]; ORDER] = [
    [
        -4.0 / 3.0,
        -4.0 / 45.0,
        88.0 / 315.0,
        538.0 / 4725.0,
        20_824.0 / 467_775.0,
        -44_732.0 / 2_837_835.0,
    ],
    [
        0.0,
        34.0 / 45.0,
        8.0 / 105.0,
        -2_482.0 / 14_175.0,
        -37_192.0 / 467_775.0,
        -12_467_764.0 / 212_837_625.0,
    ],
    [
        0.0,
        0.0,
        -1_532.0 / 2_835.0,
        -898.0 / 14_175.0,
        54_968.0 / 467_775.0,
        100_320_856.0 / 1_915_538_625.0,
    ],
    [
        0.0,
        0.0,
        0.0,
        6_007.0 / 14_175.0,
        24_496.0 / 467_775.0,
        -5_884_124.0 / 70_945_875.0,
    ],
    [
        0.0,
        0.0,
        0.0,
        0.0,
        -23_356.0 / 66_825.0,
        -839_792.0 / 19_348_875.0,
    ],
    [0.0, 0.0, 0.0, 0.0, 0.0, 570_284_222.0 / 1_915_538_625.0],
];

/// A Lambert azimuthal equal-area projection about one place, with false origin.
///
/// # Accuracy
/// Forward and inverse agree with the published examples to their last digit (1 mm) and with each other to
/// some nanometres over the whole map. The place opposite the centre has no image (its coordinates come out
/// huge or not finite), and metres further from the centre than twice the authalic radius have no place
/// (the inverse gives NaN).
#[derive(Debug, Clone, PartialEq)]
pub struct Laea {
    lat0_deg: f64,
    lon0_deg: f64,
    false_easting_m: f64,
    false_northing_m: f64,
    /// C₂ₖ of the authalic series for this ellipsoid.
    series: [f64; ORDER],
    phi0: f64,
    /// Sine and cosine of 2 φ₀.
    twice_phi0: (f64, f64),
    sin_beta0: f64,
    cos_beta0: f64,
    /// Radius of the sphere with the ellipsoid's area, metres.
    authalic_radius_m: f64,
    /// The guidance note's D, which keeps the scale the same in all directions at the centre.
    d: f64,
    /// dβ/dφ at the centre.
    slope0: f64,
}

/// How far from the centre a place may lie for the quick inverse, radians: some 60 km.
const QUICK: f64 = 0.01;

impl Laea {
    /// `lat0_deg` within -90 to 90; all values finite (the caller's duty: nothing here panics, but
    /// what isn't finite comes out as NaN).
    #[must_use]
    pub fn new(
        ellipsoid: Ellipsoid,
        lat0_deg: f64,
        lon0_deg: f64,
        false_easting_m: f64,
        false_northing_m: f64,
    ) -> Laea {
        let f = 1.0 / ellipsoid.inverse_flattening;
        let n = f / (2.0 - f);
        let series = AUTHALIC.map(|row| row.iter().rev().fold(0.0, |sum, c| (sum + c) * n));
        let e2 = ellipsoid.eccentricity2();
        let e = e2.sqrt();
        // The guidance note's q at the pole; for a sphere atanh(e)/e tends to 1.
        let q_pole = 1.0 + (1.0 - e2) * if e > 0.0 { e.atanh() / e } else { 1.0 };
        let authalic_radius_m = ellipsoid.semi_major_m * (q_pole / 2.0).sqrt();

        let phi0 = lat0_deg.to_radians();
        let (sin_phi0, cos_phi0) = phi0.sin_cos();
        // β − φ, and the same divided by cos φ: sin 2kφ = cos φ · 2 sin φ · Uₖ₋₁-like sums, so the
        // quotient stays finite at the pole.
        let over_cos = sines_over_cos(sin_phi0, cos_phi0);
        let delta_over_cos: f64 = series.iter().zip(over_cos).map(|(c, s)| c * s).sum();
        let delta = delta_over_cos * cos_phi0;
        let sinc = if delta == 0.0 {
            1.0
        } else {
            delta.sin() / delta
        };
        let cos_beta_over_cos_phi = delta.cos() - sin_phi0 * sinc * delta_over_cos;
        let beta0 = phi0 + delta;
        let normal_radius_m = ellipsoid.normal_radius_m(lat0_deg);
        Laea {
            lat0_deg,
            lon0_deg,
            false_easting_m,
            false_northing_m,
            series,
            phi0,
            twice_phi0: (2.0 * phi0).sin_cos(),
            sin_beta0: beta0.sin(),
            cos_beta0: beta0.cos(),
            authalic_radius_m,
            d: normal_radius_m / (authalic_radius_m * cos_beta_over_cos_phi),
            slope0: (1..).zip(series).fold(1.0, |sum, (k, c)| {
                let twice = 2.0 * f64::from(k);
                sum + twice * c * (twice * phi0).cos()
            }),
        }
    }

    /// Degrees to easting and northing, metres. Longitudes may be given on any turn.
    #[must_use]
    pub fn forward(&self, lat_deg: f64, lon_deg: f64) -> Coord<f64> {
        let d_phi = (lat_deg - self.lat0_deg).to_radians();
        let d_lambda = turn(lon_deg - self.lon0_deg).to_radians();
        let (sin_d_beta, cos_d_beta) = sin_cos(d_phi + self.series_difference(d_phi));
        let cos_beta = self.cos_beta0 * cos_d_beta - self.sin_beta0 * sin_d_beta;
        let (half, cos_half) = sin_cos(d_lambda / 2.0);
        let half2 = half * half;
        // 1 + sin β₀ sin β + cos β₀ cos β cos Δλ, and cos β₀ sin β − sin β₀ cos β cos Δλ, as differences
        let denominator = 1.0 + cos_d_beta - 2.0 * self.cos_beta0 * cos_beta * half2;
        let north = sin_d_beta + 2.0 * self.sin_beta0 * cos_beta * half2;
        let b = self.authalic_radius_m * (2.0 / denominator).sqrt();
        Coord {
            x: self.false_easting_m + b * self.d * cos_beta * 2.0 * half * cos_half,
            y: self.false_northing_m + b / self.d * north,
        }
    }

    /// Easting and northing in metres to (latitude, longitude) in degrees, longitude from -180 to below 180.
    /// NaN for what lies off the map.
    #[must_use]
    pub fn inverse(&self, at: Coord<f64>) -> (f64, f64) {
        let [east, north, up] = self.on_the_sphere(at);
        let sin_beta = up * self.sin_beta0 + north * self.cos_beta0;
        let along = up * self.cos_beta0 - north * self.sin_beta0;
        let beta = sin_beta.atan2(east.hypot(along));
        let lon = self.lon0_deg + east.atan2(along).to_degrees();
        (self.geographic(beta).to_degrees(), turn(lon))
    }

    /// The place on the unit sphere of authalic latitudes, seen from the centre: towards east, north and up.
    fn on_the_sphere(&self, at: Coord<f64>) -> [f64; 3] {
        let x = (at.x - self.false_easting_m) / (self.d * self.authalic_radius_m);
        let y = (at.y - self.false_northing_m) * self.d / self.authalic_radius_m;
        let rho2 = x * x + y * y;
        // ρ = 2 sin(c/2): sin c / ρ and cos c without any angle
        let shrink = (1.0 - rho2 / 4.0).sqrt();
        [x * shrink, y * shrink, 1.0 - rho2 / 2.0]
    }

    /// The same as [`Laea::inverse`], quicker within some 60 km of the centre and away from the poles: for the many places of lines that
    /// are drawn. The two differ by no more than some 1e-13 degrees, a hundredth of a micrometre.
    ///
    /// The sine of β − β₀ and the tangent of the difference in longitude are small there, so each angle is a short series
    /// of its own; φ − φ₀ is found by steps of the slope at the centre, each of which leaves under 1e-4 of what was wrong.
    pub(crate) fn inverse_quick(&self, at: Coord<f64>) -> (f64, f64) {
        let [east, north, up] = self.on_the_sphere(at);
        let along = up * self.cos_beta0 - north * self.sin_beta0;
        let tangent = east / along;
        // The sine of β − β₀ is sin β cos β₀ − cos β sin β₀. Here cos β is `along` and a small rest, `beyond`, so that no two large numbers
        // are subtracted.
        let cos_beta = (east * east + along * along).sqrt();
        let beyond = east * east / (cos_beta + along);
        let sine = north - beyond * self.sin_beta0;
        let near = along > 0.0 && tangent.abs() < QUICK && sine.abs() < QUICK;
        if !near {
            return self.inverse(at);
        }
        let d_beta = arc_sine(sine);
        let mut d_phi = d_beta / self.slope0;
        for _ in 0..4 {
            let step = (d_beta - d_phi - self.series_difference(d_phi)) / self.slope0;
            d_phi += step;
            if step.abs() < 1e-13 {
                break;
            }
        }
        let lon = self.lon0_deg + arc_tangent(tangent).to_degrees();
        (self.lat0_deg + d_phi.to_degrees(), turn(lon))
    }

    /// Σ C₂ₖ (sin 2kφ − sin 2kφ₀) = Σ 2 C₂ₖ cos k(φ + φ₀) sin k(φ − φ₀), by the recurrences of the
    /// multiple angles.
    fn series_difference(&self, d_phi: f64) -> f64 {
        let (sin_d, cos_d) = sin_cos(d_phi);
        let (sin_twice, cos_twice) = self.twice_phi0;
        let cos_sum = cos_twice * cos_d - sin_twice * sin_d;
        let (mut c_before, mut c) = (1.0, cos_sum);
        let (mut s_before, mut s) = (0.0, sin_d);
        let mut total = 0.0;
        for coefficient in self.series {
            total += 2.0 * coefficient * c * s;
            (c_before, c) = (c, 2.0 * cos_sum * c - c_before);
            (s_before, s) = (s, 2.0 * cos_d * s - s_before);
        }
        total
    }

    /// Authalic to geographic latitude, radians, by Newton's method on the forward series. The first
    /// guess is within 0.0023 rad and the slope within 0.5 % of 1, so each step leaves under 1 % of the square.
    fn geographic(&self, beta: f64) -> f64 {
        let mut phi = beta;
        for _ in 0..3 {
            let (mut value, mut slope) = (phi - beta, 1.0);
            for (k, coefficient) in (1..).zip(self.series) {
                let twice = 2.0 * f64::from(k);
                let (sin, cos) = (twice * phi).sin_cos();
                value += coefficient * sin;
                slope += coefficient * twice * cos;
            }
            phi -= value / slope;
        }
        phi
    }
}

/// sin 2kφ / cos φ for k = 1 to 6. With s₂ₖ = sin 2kφ / cos φ: s₂ = 2 sin φ and
/// s₂ₖ₊₂ = 2 cos 2φ · s₂ₖ − s₂ₖ₋₂.
fn sines_over_cos(sin_phi: f64, cos_phi: f64) -> [f64; ORDER] {
    let cos_2phi = cos_phi * cos_phi - sin_phi * sin_phi;
    let (mut before, mut now) = (0.0, 2.0 * sin_phi);
    [(); ORDER].map(|()| {
        let this = now;
        (before, now) = (now, 2.0 * cos_2phi * now - before);
        this
    })
}

/// Sine and cosine of an angle in radians, quickly where it is small, as all differences from the centre of a site are.
fn sin_cos(angle: f64) -> (f64, f64) {
    // Some 200 km of the Earth: there the next terms of both series are under 1e-17 of the sum.
    const SMALL: f64 = 0.03;
    if angle.abs() > SMALL || angle.is_nan() {
        return angle.sin_cos();
    }
    let square = angle * angle;
    let sin = angle * (1.0 - square / 6.0 * (1.0 - square / 20.0 * (1.0 - square / 42.0)));
    let cos = 1.0 - square / 2.0 * (1.0 - square / 12.0 * (1.0 - square / 30.0));
    (sin, cos)
}

/// The arc sine of a value under [`QUICK`]: the next term is under 1e-18 of the sum.
fn arc_sine(sine: f64) -> f64 {
    let square = sine * sine;
    sine * (1.0 + square * (1.0 / 6.0 + square * (3.0 / 40.0 + square * (15.0 / 336.0))))
}

/// The arc tangent of a value under [`QUICK`]: the next term is under 1e-16 of the sum.
fn arc_tangent(tangent: f64) -> f64 {
    let square = tangent * tangent;
    tangent * (1.0 - square * (1.0 / 3.0 - square * (1.0 / 5.0 - square / 7.0)))
}

/// Degrees brought into the range from -180 (included) to 180 (excluded) by whole turns.
pub(crate) fn turn(degrees: f64) -> f64 {
    if degrees.abs() < 180.0 {
        return degrees;
    }
    let turned = degrees - 360.0 * (degrees / 360.0).round();
    if turned >= 180.0 {
        turned - 360.0
    } else {
        turned
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    /// The closed form of the authalic latitude, IOGP Guidance Note 7-2, method 9820.
    fn authalic_closed(ellipsoid: Ellipsoid, phi: f64) -> f64 {
        let e2 = ellipsoid.eccentricity2();
        let e = e2.sqrt();
        let q = |s: f64| {
            (1.0 - e2) * (s / (1.0 - e2 * s * s) - ((1.0 - e * s) / (1.0 + e * s)).ln() / (2.0 * e))
        };
        (q(phi.sin()) / q(1.0)).asin()
    }

    #[test]
    fn series_agrees_with_the_closed_form() {
        for ellipsoid in [Ellipsoid::WGS84, Ellipsoid::GRS80] {
            let laea = Laea::new(ellipsoid, 0.0, 0.0, 0.0, 0.0);
            for lat in -89..=89 {
                let phi = f64::from(lat).to_radians();
                let beta = phi + laea.series_difference(phi);
                // the closed form's arcsine itself loses digits towards the pole
                let closed_form_error = 2e-15 / phi.cos();
                assert_abs_diff_eq!(
                    beta,
                    authalic_closed(ellipsoid, phi),
                    epsilon = closed_form_error
                );
                assert_abs_diff_eq!(laea.geographic(beta), phi, epsilon = 1e-15);
            }
        }
    }

    #[test]
    fn small_angles_have_the_sines_of_all_others() {
        for k in -400..=400 {
            let angle = 1e-4 * f64::from(k);
            let (sin, cos) = sin_cos(angle);
            assert!((sin - angle.sin()).abs() <= 2.0 * f64::EPSILON * angle.abs());
            assert!((cos - angle.cos()).abs() <= 2.0 * f64::EPSILON);
        }
        assert!(sin_cos(f64::NAN).0.is_nan());
    }

    /// The quick inverse is compared with the full one, and with the way there and back.
    #[test]
    fn the_quick_inverse_is_the_long_one() {
        for (lat, lon) in [
            (0.0, 0.0),
            (52.1, -1.2),
            (-33.9, 179.999),
            (70.0, 25.0),
            (-89.0, 10.0),
            (89.9999, 10.0),
            (90.0, 0.0),
        ] {
            let laea = Laea::new(Ellipsoid::WGS84, lat, lon, 0.0, 0.0);
            for reach_m in [0.01, 20.0, 300.0, 5e3, 3e4, 6e4, 7e4, 2e6] {
                for k in 0..24 {
                    let (sin, cos) = (f64::from(k) * 0.27).sin_cos();
                    let at = Coord {
                        x: reach_m * sin,
                        y: reach_m * cos,
                    };
                    let quick = laea.inverse_quick(at);
                    let long = laea.inverse(at);
                    let case = format!("{lat} {lon} {reach_m} {k}: {quick:?} {long:?}");
                    assert!((quick.0 - long.0).abs() < 1e-13, "{case}");
                    // A degree of longitude shrinks towards the pole, its rounding does not.
                    let shrunk = long.0.to_radians().cos();
                    assert!(turn(quick.1 - long.1).abs() * shrunk < 1e-13, "{case}");
                    let back = laea.forward(quick.0, quick.1);
                    assert!((back.x - at.x).hypot(back.y - at.y) < 2e-8, "{case}");
                }
            }
            assert!(
                laea.inverse_quick(Coord {
                    x: f64::NAN,
                    y: 0.0
                })
                .0
                .is_nan()
            );
            assert!(laea.inverse_quick(Coord { x: 3e7, y: 0.0 }).0.is_nan());
        }
    }

    #[test]
    fn turns_come_back_to_one() {
        for (given, wanted) in [
            (180.0, -180.0),
            (-180.0, -180.0),
            (540.5, -179.5),
            (-190.0, 170.0),
            (360.0, 0.0),
        ] {
            assert_eq!(turn(given), wanted);
        }
    }
}
