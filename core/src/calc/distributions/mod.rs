//! Distributions: probabilities from the library, quantiles solved from them to the last digits, and the noncentral t
//! that the library does not have.

#[cfg(test)]
mod reference;

use super::root::rising;
use statrs::{
    distribution::{ChiSquared, Continuous, ContinuousCDF, DiscreteCDF, Poisson, StudentsT},
    function::gamma::ln_gamma,
};

/// The probability that a standard normal variable stays below `z`, to the last bits in both tails.
#[must_use]
pub fn normal(z: f64) -> f64 {
    // The statistics library's own error function is right to eleven digits only.
    0.5 * libm::erfc(-z * std::f64::consts::FRAC_1_SQRT_2)
}

/// The density of a standard normal variable.
#[must_use]
pub fn normal_density(z: f64) -> f64 {
    (-0.5 * z * z).exp() / std::f64::consts::TAU.sqrt()
}

/// What a standard normal variable stays below with a probability between 0 and 1, bounds excluded.
#[must_use]
pub fn normal_quantile(probability: f64) -> f64 {
    // Solved in the smaller tail, where a probability keeps its digits.
    let (tail, sign) = if probability < 0.5 { (probability, -1.0) } else { (1.0 - probability, 1.0) };
    if tail == 0.5 {
        return 0.0;
    }
    sign * rising(0.0, 40.0, 1.0, |z| (tail - normal(-z), normal_density(z)))
}

/// The chi-square value of a probability, with `degrees` of freedom above zero.
#[must_use]
pub fn chi_square_quantile(probability: f64, degrees: f64) -> f64 {
    let Ok(distribution) = ChiSquared::new(degrees) else { return f64::NAN };
    // Wilson and Hilferty's cube is close enough to start from, and ten times beyond bounds it.
    let z = normal_quantile(probability);
    let ninth = 2.0 / (9.0 * degrees);
    let start = (degrees * (1.0 - ninth + z * ninth.sqrt()).powi(3)).max(1e-3 * degrees);
    let high = 10.0 * start + 100.0;
    if probability < 0.5 {
        rising(0.0, high, start, |x| (distribution.cdf(x) - probability, distribution.pdf(x)))
    } else {
        rising(0.0, high, start, |x| (1.0 - probability - distribution.sf(x), distribution.pdf(x)))
    }
}

/// From here on the incomplete beta function loses digits, and the expansion about the normal distribution has them all.
const MANY_DEGREES: f64 = 1e4;

/// Student's t from the normal quantile `z`: Abramowitz and Stegun 26.7.5 (recalled).
fn nearly_normal_quantile(z: f64, degrees: f64) -> f64 {
    let square = z * z;
    let terms = [
        (square + 1.0) / 4.0,
        ((5.0 * square + 16.0) * square + 3.0) / 96.0,
        (((3.0 * square + 19.0) * square + 17.0) * square - 15.0) / 384.0,
        ((((79.0 * square + 776.0) * square + 1482.0) * square - 1920.0) * square - 945.0) / 92160.0,
    ];
    z + z * terms.iter().rev().fold(0.0, |sum, term| (sum + term) / degrees)
}

/// Student's t of a probability, with `degrees` of freedom above zero; infinite degrees are the normal distribution.
#[must_use]
pub fn student_quantile(probability: f64, degrees: f64) -> f64 {
    if degrees > MANY_DEGREES {
        return nearly_normal_quantile(normal_quantile(probability), degrees);
    }
    let Ok(distribution) = StudentsT::new(0.0, 1.0, degrees) else { return f64::NAN };
    let (tail, sign) = if probability < 0.5 { (probability, -1.0) } else { (1.0 - probability, 1.0) };
    if tail == 0.5 {
        return 0.0;
    }
    let mut high = 2.0;
    while distribution.sf(high) > tail && high < 1e150 {
        high *= high;
    }
    sign * rising(0.0, high, 1.0, |t| (tail - distribution.sf(t), distribution.pdf(t)))
}

/// The probability that a noncentral t variable stays below `t` > 0: `E[Φ(t·√(χ²/ν) − δ)]`.
///
/// The trapezoidal rule over the logarithm of `√(χ²/ν)`: the integrand and all its derivatives vanish at both ends, so
/// that the rule converges faster than any power of its step.
#[must_use]
pub fn noncentral_t(t: f64, degrees: f64, noncentrality: f64) -> f64 {
    let step = 1.0 / (6.0 * (2.0 * degrees).sqrt());
    let log_density = |s: f64| degrees * (s - 0.5 * (2.0 * s).exp());
    let peak = log_density(0.0);
    // 2·(ν/2)^(ν/2)/Γ(ν/2), the constant of the density of the logarithm.
    let constant = std::f64::consts::LN_2 + 0.5 * degrees * (0.5 * degrees).ln() - ln_gamma(0.5 * degrees);
    let mut sum = 0.0;
    for direction in [1.0, -1.0] {
        let mut s: f64 = if direction > 0.0 { 0.0 } else { -step };
        while log_density(s) - peak > -45.0 {
            sum += (log_density(s) + constant).exp() * normal(t * s.exp() - noncentrality);
            s += direction * step;
        }
    }
    (sum * step).min(1.0)
}

/// Demand that arrives one at a time: probabilities of a Poisson variable of a mean above zero.
#[derive(Clone, Copy, Debug)]
pub struct PoissonDemand(Poisson, f64);

impl PoissonDemand {
    /// `None` for a mean that is not above zero.
    #[must_use]
    pub fn new(mean: f64) -> Option<Self> {
        Poisson::new(mean).ok().map(|distribution| Self(distribution, mean))
    }

    /// The probability of more than `n`.
    #[must_use]
    pub fn above(self, n: u64) -> f64 {
        self.0.sf(n)
    }

    /// The probability of at most `n`.
    #[must_use]
    pub fn at_most(self, n: u64) -> f64 {
        self.0.cdf(n)
    }

    /// The smallest `n` that is not exceeded with at least this probability, below 1.
    #[must_use]
    pub fn quantile(self, probability: f64) -> u64 {
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a mean of demand lies far below 2^53, and the bound starts at zero"
        )]
        let guess = (self.1 + 40.0 * self.1.sqrt() + 60.0) as u64;
        let (mut low, mut high) = (0_u64, guess);
        while low < high {
            let middle = u64::midpoint(low, high);
            if self.at_most(middle) >= probability {
                high = middle;
            } else {
                low = middle + 1;
            }
        }
        low
    }

    /// The mean of what exceeds `n`: `μ·P(D ≥ n) − n·P(D > n)`.
    #[must_use]
    pub fn excess(self, n: u64) -> f64 {
        #[expect(clippy::cast_precision_loss, reason = "counts of demand lie far below 2^53")]
        let as_number = n as f64;
        let at_least = if n == 0 { 1.0 } else { self.above(n - 1) };
        (self.1 * at_least - as_number * self.above(n)).max(0.0)
    }
}

#[cfg(test)]
mod tests {
    use super::{
        reference::{CHI_SQUARE_QUANTILES, NONCENTRAL_T, NORMAL_QUANTILES, STUDENT_QUANTILES},
        *,
    };

    fn near(got: f64, expected: f64, relative: f64) {
        assert!(((got - expected) / expected).abs() <= relative, "{got:.17e} {expected:.17e}");
    }

    #[test]
    fn quantiles_agree_with_mpmath() {
        for (p, z) in NORMAL_QUANTILES {
            near(normal_quantile(*p), *z, 4e-15);
            near(normal_quantile(1.0 - *p), -*z, 1e-9);
        }
        for (p, degrees, x) in CHI_SQUARE_QUANTILES {
            near(chi_square_quantile(*p, *degrees), *x, 1e-12);
        }
        for (p, degrees, t) in STUDENT_QUANTILES {
            near(student_quantile(*p, *degrees), *t, 1e-12);
            near(student_quantile(1.0 - *p, *degrees), -*t, 1e-9);
        }
        assert_eq!((normal_quantile(0.5), student_quantile(0.5, 3.0)), (0.0, 0.0));
        near(student_quantile(0.975, 1e12), normal_quantile(0.975), 2e-12);
    }

    #[test]
    fn noncentral_t_agrees_with_mpmath() {
        for (t, degrees, noncentrality, probability) in NONCENTRAL_T {
            near(noncentral_t(*t, *degrees, *noncentrality), *probability, 1e-11);
        }
    }

    #[test]
    fn poisson_demand_by_its_terms() {
        let demand = PoissonDemand::new(3.2).unwrap();
        let mut term = (-3.2_f64).exp();
        let mut below = 0.0;
        let mut excess = 3.2;
        for n in 0..15_u32 {
            below += term;
            near(demand.at_most(n.into()), below, 1e-13);
            assert!((demand.excess(n.into()) - excess).abs() < 1e-12, "{n}");
            assert_eq!(demand.quantile(below - 0.5 * term), u64::from(n));
            excess -= 1.0 - below;
            term *= 3.2 / f64::from(n + 1);
        }
        assert!(PoissonDemand::new(0.0).is_none());
    }
}
