//! Seeded chance: the same seed gives the same walk on every machine.
//!
//! xoshiro256++ (D. Blackman, S. Vigna, "Scrambled linear pseudorandom number generators", ACM Trans. Math.
//! Softw. 47(4), 2021), its state filled by SplitMix64 (G. Steele, D. Lea, C. Flood, OOPSLA 2014), as its
//! authors advise. Not for secrets.

/// A stream of numbers by chance.
#[derive(Debug, Clone)]
pub struct Chance {
    state: [u64; 4],
    /// The second normal number of a pair, not handed out yet.
    spare: Option<f64>,
}

impl Chance {
    pub fn new(seed: u64) -> Chance {
        let mut at = seed;
        let state = [0; 4].map(|_: u64| split_mix(&mut at));
        Chance { state, spare: None }
    }

    /// A stream of its own for one purpose of one seed, so that more numbers drawn for one purpose
    /// (the hand, say) leave those of another (the receiver) as they were.
    pub fn stream(seed: u64, purpose: &str) -> Chance {
        // FNV-1a, 64 bits: offset basis and prime as its authors publish them.
        let mark = purpose
            .bytes()
            .fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| {
                (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3)
            });
        Chance::new(seed ^ mark)
    }

    /// 64 bits, each as likely 0 as 1.
    pub fn bits(&mut self) -> u64 {
        let [s0, s1, s2, s3] = self.state;
        let out = s0.wrapping_add(s3).rotate_left(23).wrapping_add(s0);
        let s2 = s2 ^ s0;
        let s3 = s3 ^ s1;
        self.state = [s0 ^ s3, s1 ^ s2, s2 ^ (s1 << 17), s3.rotate_left(45)];
        out
    }

    /// From 0 to below 1, on a grid of 2^-53.
    pub fn unit(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Evenly between two numbers.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// Evenly between the logarithms of two numbers above zero.
    pub fn log_between(&mut self, low: f64, high: f64) -> f64 {
        self.between(low.ln(), high.ln()).exp()
    }

    /// A whole number from 0 to below `count`; 0 when `count` is 0.
    pub fn below(&mut self, count: usize) -> usize {
        // The bias of scaling is count / 2^53: none that a trial could see.
        ((self.unit() * count as f64) as usize).min(count.saturating_sub(1))
    }

    pub fn happens(&mut self, chance: f64) -> bool {
        self.unit() < chance
    }

    /// Mean 0, standard deviation 1 (Marsaglia's polar method, SIAM Review 6(3), 1964).
    pub fn normal(&mut self) -> f64 {
        if let Some(spare) = self.spare.take() {
            return spare;
        }
        loop {
            let (u, v) = (self.between(-1.0, 1.0), self.between(-1.0, 1.0));
            let square = u * u + v * v;
            if square > 0.0 && square < 1.0 {
                let scale = (-2.0 * square.ln() / square).sqrt();
                self.spare = Some(v * scale);
                return u * scale;
            }
        }
    }
}

fn split_mix(at: &mut u64) -> u64 {
    *at = at.wrapping_add(0x9e37_79b9_7f4a_7c15);
    let mut out = *at;
    out = (out ^ (out >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    out = (out ^ (out >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    out ^ (out >> 31)
}

/// A first-order Gauss-Markov process of variance 1: its correlation over `dt` seconds is `exp(-dt / tau)`.
#[derive(Debug, Clone)]
pub struct GaussMarkov {
    tau_s: f64,
    at_s: Option<f64>,
    value: f64,
}

impl GaussMarkov {
    pub fn new(tau_s: f64) -> GaussMarkov {
        GaussMarkov {
            tau_s,
            at_s: None,
            value: 0.0,
        }
    }

    /// Its value at a time; times must not run backwards. Starts stationary: no settling-in.
    pub fn at(&mut self, time_s: f64, chance: &mut Chance) -> f64 {
        self.value = match self.at_s {
            None => chance.normal(),
            Some(before_s) => {
                let keep = (-(time_s - before_s).max(0.0) / self.tau_s).exp();
                keep * self.value + (1.0 - keep * keep).sqrt() * chance.normal()
            }
        };
        self.at_s = Some(time_s);
        self.value
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bits_match_the_authors_reference_output() {
        // First outputs of the authors' xoshiro256plusplus.c from the state 1, 2, 3, 4, as quoted in the tests of
        // several public generators; the first two follow by hand (5·2²³ + 1, 7·2²³ + 103).
        let mut chance = Chance {
            state: [1, 2, 3, 4],
            spare: None,
        };
        let expected = [
            41943041,
            58720359,
            3588806011781223,
            3591011842654386,
            9228616714210784205,
            9973669472204895162,
        ];
        assert_eq!(expected.map(|_| chance.bits()), expected);
        // SplitMix64 from the seed 1234567, as published on Rosetta Code.
        let mut at = 1234567;
        let expected = [
            6457827717110365317,
            3203168211198807973,
            9817491932198370423,
            4593380528125082431,
        ];
        assert_eq!(expected.map(|_| split_mix(&mut at)), expected);
    }

    #[test]
    fn normal_has_the_moments_of_a_normal() {
        let mut chance = Chance::new(7);
        let n = 200_000;
        let draws: Vec<f64> = (0..n).map(|_| chance.normal()).collect();
        let moment = |k: i32| draws.iter().map(|z| z.powi(k)).sum::<f64>() / n as f64;
        // Standard errors at this n: 0.0022, 0.0032, 0.0087, 0.022; four of each allowed.
        assert!(moment(1).abs() < 0.009);
        assert!((moment(2) - 1.0).abs() < 0.013);
        assert!(moment(3).abs() < 0.035);
        assert!((moment(4) - 3.0).abs() < 0.088);
        let outside = draws.iter().filter(|z| z.abs() > 1.959964).count() as f64 / n as f64;
        assert!((outside - 0.05).abs() < 0.002);
    }

    #[test]
    fn gauss_markov_forgets_as_it_should() {
        let mut chance = Chance::new(11);
        let mut process = GaussMarkov::new(20.0);
        let n = 400_000;
        let walk: Vec<f64> = (0..n)
            .map(|i| process.at(f64::from(i), &mut chance))
            .collect();
        for lag in [0_usize, 5, 20, 60] {
            let pairs = n as usize - lag;
            let found = (0..pairs).map(|i| walk[i] * walk[i + lag]).sum::<f64>() / pairs as f64;
            let expected = (-(lag as f64) / 20.0).exp();
            // About n / 40 independent stretches: a standard error of 0.01 or so.
            assert!(
                (found - expected).abs() < 0.04,
                "lag {lag}: {found} against {expected}"
            );
        }
    }

    #[test]
    fn streams_differ_and_repeat() {
        assert_eq!(
            Chance::stream(3, "hand").bits(),
            Chance::stream(3, "hand").bits()
        );
        assert_ne!(
            Chance::stream(3, "hand").bits(),
            Chance::stream(3, "sky").bits()
        );
        assert_ne!(
            Chance::stream(3, "hand").bits(),
            Chance::stream(4, "hand").bits()
        );
    }
}
