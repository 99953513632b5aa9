//! Constants of control charts for subgroups of a normal process, from their defining integrals.

use super::{distributions::normal, summary::count};
use statrs::function::gamma::ln_gamma;

/// The constants of one subgroup size.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Constants {
    /// Mean range over standard deviation.
    pub d2: f64,
    /// Standard deviation of the range over standard deviation.
    pub d3: f64,
    /// Mean standard deviation of a subgroup over standard deviation.
    pub c4: f64,
    /// Limits of a chart of means, in mean ranges: `3/(d2 √n)`.
    pub a2: f64,
    /// Lower limit of a chart of ranges, in mean ranges: `max(0, 1 − 3 d3/d2)`.
    pub d3_limit: f64,
    /// Upper limit of a chart of ranges, in mean ranges: `1 + 3 d3/d2`.
    pub d4_limit: f64,
}

/// The smallest subgroup that has a range, and the largest that a chart of ranges is used for.
pub const SUBGROUP_SIZES: std::ops::RangeInclusive<usize> = 2..=25;

/// The constants of subgroups of `n` pieces; `None` outside [`SUBGROUP_SIZES`].
///
/// The distribution of the range of `n` standard normal values is `F(w) = n ∫ φ(x) [Φ(x + w) − Φ(x)]^(n−1) dx`;
/// `d2² + d3² = 2 ∫ w (1 − F)`, and `d2 = ∫ [1 − Φⁿ − (1 − Φ)ⁿ]`. All are sums over one grid, on which `Φ` is computed
/// once.
/// Source: NIST/SEMATECH e-Handbook 6.3.2.1, recalled; the integral after L. H. C. Tippett (1925), recalled.
#[must_use]
pub fn constants(n: usize) -> Option<Constants> {
    if !SUBGROUP_SIZES.contains(&n) {
        return None;
    }
    const PER_UNIT: usize = 20;
    const REACH: usize = 9;
    const WIDEST: usize = 14;
    let step = 1.0 / count(PER_UNIT);
    let at = |i: usize| count(i) * step - count(REACH);
    let below: Vec<f64> = (0..=(2 * REACH + WIDEST) * PER_UNIT).map(|i| normal(at(i))).collect();
    let power = i32::try_from(n - 1).ok()?;
    let density: Vec<f64> =
        (0..=2 * REACH * PER_UNIT).map(|i| (-0.5 * at(i) * at(i)).exp() / (std::f64::consts::TAU).sqrt()).collect();
    let whole = i32::try_from(n).ok()?;
    let first: f64 = (0..=2 * REACH * PER_UNIT).map(|i| 1.0 - below[i].powi(whole) - normal(-at(i)).powi(whole)).sum();
    let d2 = first * step;
    let mut second = 0.0;
    // Boole's rule over w, for three values still bend the integrand at 0 where Simpson's rule loses the eighth digit; the
    // trapezoidal rule over x is exact to the last bits, for φ vanishes at both ends.
    for k in 0..=WIDEST * PER_UNIT {
        let inner: f64 =
            density.iter().enumerate().map(|(i, density)| density * (below[i + k] - below[i]).powi(power)).sum();
        let beyond = 1.0 - count(n) * inner * step;
        let weight = if k == 0 || k == WIDEST * PER_UNIT {
            7.0
        } else if k % 2 == 1 {
            32.0
        } else if k % 4 == 2 {
            12.0
        } else {
            14.0
        };
        second += weight * beyond * count(k) * step;
    }
    let d3 = (4.0 * second * step / 45.0 - d2 * d2).sqrt();
    let half = count(n) / 2.0;
    let c4 = (2.0 / count(n - 1)).sqrt() * (ln_gamma(half) - ln_gamma(half - 0.5)).exp();
    Some(Constants {
        d2,
        d3,
        c4,
        a2: 3.0 / (d2 * count(n).sqrt()),
        d3_limit: (1.0 - 3.0 * d3 / d2).max(0.0),
        d4_limit: 1.0 + 3.0 * d3 / d2,
    })
}

#[cfg(test)]
mod tests {
    use super::constants;

    /// Two values differ by √2 times a normal one: `d2 = 2/√π`, `d3 = √(2 − 4/π)`; three: `d2 = 3/√π`,
    /// `d3 = √(2 + (3√3 − 9)/π)`. Exact results of
    /// order statistics (derived).
    #[test]
    fn small_subgroups_are_known_exactly() {
        let pi = std::f64::consts::PI;
        let two = constants(2).unwrap();
        assert!((two.d2 - 2.0 / pi.sqrt()).abs() < 1e-9, "{two:?}");
        assert!((two.d3 - (2.0 - 4.0 / pi).sqrt()).abs() < 1e-9, "{two:?}");
        assert!((two.c4 - (2.0 / pi).sqrt()).abs() < 1e-14);
        let three = constants(3).unwrap();
        assert!((three.d2 - 3.0 / pi.sqrt()).abs() < 1e-9);
        assert!((three.d3 - (2.0 + (27.0_f64.sqrt() - 9.0) / pi).sqrt()).abs() < 1e-9, "{three:?}");
        assert_eq!((constants(1), constants(26)), (None, None));
    }

    /// `d2` against mpmath 1.3 (its integral at 18 digits), `d3` against a Gauss–Legendre double integral over the joint
    /// density of least and greatest with scipy 1.17's normal distribution.
    #[test]
    fn larger_subgroups_agree_with_other_integrals() {
        for (n, d2, d3) in [
            (5, 2.325_928_947_281, 0.864_081_941_099),
            (7, 2.704_356_751_213_8, 0.833_205_335_622),
            (10, 3.077_505_461_670_3, 0.797_050_673_519),
            (25, 3.930_629_219_507_1, 0.708_440_765_889),
        ] {
            let got = constants(n).unwrap();
            assert!((got.d2 - d2).abs() < 1e-11 && (got.d3 - d3).abs() < 1e-9, "{n}: {got:?} {d2} {d3}");
        }
    }
}
