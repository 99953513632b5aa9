//! Factors of normal tolerance intervals: `mean ± k·s` holds a share of the population with a confidence.
//! Source: NIST/SEMATECH e-Handbook 7.2.6.3 (text of the numbers seen in a public worksheet).

use super::{
    distributions::{chi_square_quantile, noncentral_t, normal_quantile},
    root::rising,
    summary::count,
};

/// The two-sided factor after Howe: `z_{(1+p)/2} √(ν(1 + 1/n)/χ²_{1−γ,ν})`, for `n` ≥ 2 readings, a share `p` and a
/// confidence `γ` between 0 and 1. Good to a percent and mostly far better.
#[must_use]
pub fn two_sided_factor(n: usize, share: f64, confidence: f64) -> f64 {
    let degrees = count(n - 1);
    let chi_square = chi_square_quantile(1.0 - confidence, degrees);
    normal_quantile(0.5 + share / 2.0) * (degrees * (1.0 + 1.0 / count(n)) / chi_square).sqrt()
}

/// The one-sided factor after Natrella, a closed form close to [`one_sided_factor`], which it starts. `None` where few
/// readings and a high confidence leave it without a value.
#[must_use]
pub fn one_sided_factor_natrella(n: usize, share: f64, confidence: f64) -> Option<f64> {
    let (z, z_confidence) = (normal_quantile(share), normal_quantile(confidence));
    let a = 1.0 - z_confidence * z_confidence / (2.0 * count(n - 1));
    let b = z * z - z_confidence * z_confidence / count(n);
    let root = z * z - a * b;
    (a > 0.0 && root >= 0.0).then(|| (z + root.sqrt()) / a)
}

/// The exact one-sided factor, a quantile of the noncentral t distribution with `δ = z_p √n` over `√n`, for `n` ≥ 2
/// readings, a share above a half and a confidence between 0 and 1.
#[must_use]
pub fn one_sided_factor(n: usize, share: f64, confidence: f64) -> f64 {
    let root = count(n).sqrt();
    let noncentrality = normal_quantile(share) * root;
    let probability = |t: f64| noncentral_t(t, count(n - 1), noncentrality);
    let start = one_sided_factor_natrella(n, share, confidence).unwrap_or(2.0 * normal_quantile(share)) * root;
    let mut high = 2.0 * start + 1.0;
    while probability(high) < confidence && high < 1e12 {
        high *= 2.0;
    }
    // The slope from a small difference: it only speeds the search.
    let t = rising(0.0, high, start, |t| {
        let (here, there) = (probability(t), probability(t * (1.0 + 1e-4)));
        (here - confidence, (there - here) / (1e-4 * t))
    });
    t / root
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Against scipy 1.17: `nct.ppf(γ, n − 1, z_p √n)/√n`.
    #[test]
    fn one_sided_factors_agree_with_scipy() {
        for (n, share, confidence, factor) in SCIPY {
            let got = one_sided_factor(n, share, confidence);
            assert!((got / factor - 1.0).abs() < 1e-8, "{n} {share} {confidence}: {got} {factor}");
        }
        assert_eq!(one_sided_factor_natrella(2, 0.9, 0.99), None);
    }

    const SCIPY: [(usize, f64, f64, f64); 6] = [
        (2, 0.9, 0.9, 10.252714027862607),
        (5, 0.95, 0.95, 4.202680741256176),
        (10, 0.99, 0.9, 3.5316587507606014),
        (30, 0.9, 0.95, 1.7773287978334928),
        (43, 0.9, 0.99, 1.8739536058511987),
        (200, 0.95, 0.99, 1.922904913644702),
    ];
}
