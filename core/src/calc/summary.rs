//! Mean, scatter and straight lines, in two passes so that large numbers with small scatter keep their digits.

/// A count as a number.
#[must_use]
#[expect(clippy::cast_precision_loss, reason = "counts of readings lie far below 2^53")]
pub const fn count(n: usize) -> f64 {
    n as f64
}

/// The mean, corrected once by the mean of what it leaves. NaN for no values.
#[must_use]
pub fn mean(values: &[f64]) -> f64 {
    let n = count(values.len());
    let first = values.iter().sum::<f64>() / n;
    first + values.iter().map(|value| value - first).sum::<f64>() / n
}

/// The sample standard deviation about the mean, over `n − 1`. NaN for fewer than two values.
#[must_use]
pub fn standard_deviation(values: &[f64]) -> f64 {
    if values.len() < 2 {
        return f64::NAN;
    }
    let mean = mean(values);
    let squares: f64 = values.iter().map(|value| (value - mean).powi(2)).sum();
    let left: f64 = values.iter().map(|value| value - mean).sum();
    ((squares - left * left / count(values.len())) / count(values.len() - 1)).sqrt()
}

/// A least-squares straight line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line {
    /// Change of `y` with `x`.
    pub slope: f64,
    /// `y` at `x = 0`.
    pub intercept: f64,
    /// Mean of `x`.
    pub mean_x: f64,
    /// Mean of `y`.
    pub mean_y: f64,
    /// Sum of squared deviations of `x`.
    pub sum_xx: f64,
    /// Standard deviation of the residuals, over `n − 2`; NaN for two points.
    pub residual_deviation: f64,
}

/// Fits `y = intercept + slope · x`. `None` where all `x` are the same.
#[must_use]
pub fn line(points: &[(f64, f64)]) -> Option<Line> {
    let (x, y): (Vec<f64>, Vec<f64>) = points.iter().copied().unzip();
    let (mean_x, mean_y) = (mean(&x), mean(&y));
    let sum_xx: f64 = x.iter().map(|x| (x - mean_x).powi(2)).sum();
    let sum_xy: f64 = points.iter().map(|(x, y)| (x - mean_x) * (y - mean_y)).sum();
    if sum_xx.is_nan() || sum_xx <= 0.0 {
        return None;
    }
    let slope = sum_xy / sum_xx;
    let squares: f64 = points.iter().map(|(x, y)| (y - mean_y - slope * (x - mean_x)).powi(2)).sum();
    let residual_deviation = if points.len() > 2 { (squares / count(points.len() - 2)).sqrt() } else { f64::NAN };
    Some(Line { slope, intercept: mean_y - slope * mean_x, mean_x, mean_y, sum_xx, residual_deviation })
}
