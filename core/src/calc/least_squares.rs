//! Weighted non-linear least squares over small, fixed numbers of unknowns: Levenberg–Marquardt with analytic
//! derivatives, finished by undamped Gauss–Newton steps so that the last digits are right.
//!
//! Own code because the problems are tiny (two or three unknowns, a handful of readings): the normal equations fit in
//! registers and one solve takes about a microsecond. Unknowns are scaled by their columns before anything is factored.
//! Sources: K. Levenberg (1944), D. W. Marquardt (1963), recalled; held against the certified values of NIST StRD.

use nalgebra::{SMatrix, SVector};

/// What is fitted: residuals and their derivatives, already divided by the standard uncertainty of each reading.
pub trait Model<const N: usize> {
    /// How many residuals there are.
    fn len(&self) -> usize;

    /// Whether there are none.
    fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// The `index`-th residual at `unknowns` and its derivatives; `None` where the model does not exist.
    fn residual(&self, index: usize, unknowns: &SVector<f64, N>) -> Option<(f64, SVector<f64, N>)>;
}

/// A minimum.
#[derive(Clone, Debug)]
pub struct Fit<const N: usize> {
    /// The unknowns at the minimum.
    pub unknowns: SVector<f64, N>,
    /// The sum of squared residuals there.
    pub sum_of_squares: f64,
    /// `(JᵀJ)⁻¹`: the covariance of the unknowns when residuals were divided by true standard uncertainties.
    pub covariance: SMatrix<f64, N, N>,
    /// How many steps were taken.
    pub iterations: u32,
}

/// Why no minimum was found. `Singular` names the first unknown, from 0, that the ones before it already explain.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum FitError {
    /// The model does not exist at the starting point.
    #[error("the model does not exist at the starting point")]
    NoStart,
    /// The readings do not determine the unknowns: the normal equations are singular.
    #[error("the readings do not determine unknown {0}")]
    Singular(usize),
    /// No minimum within the allowed steps.
    #[error("no minimum was reached")]
    NotConverged,
}

struct Normal<const N: usize> {
    matrix: SMatrix<f64, N, N>,
    gradient: SVector<f64, N>,
    cost: f64,
}

const LARGEST_DAMPING: f64 = 1e20;
const MOST_STEPS: u32 = 500;
const MOST_FINISHING_STEPS: u32 = 60;

/// Column-scaled pivots below this say that two unknowns do the same to every reading.
const SMALLEST_PIVOT: f64 = 1e-13;

fn normal<const N: usize>(model: &impl Model<N>, at: &SVector<f64, N>) -> Option<Normal<N>> {
    let mut sum: Normal<N> = Normal { matrix: SMatrix::zeros(), gradient: SVector::zeros(), cost: 0.0 };
    for index in 0..model.len() {
        let (residual, row) = model.residual(index, at)?;
        sum.cost += residual * residual;
        for i in 0..N {
            sum.gradient[i] += row[i] * residual;
            for j in 0..=i {
                sum.matrix[(i, j)] += row[i] * row[j];
            }
        }
    }
    for i in 0..N {
        for j in 0..i {
            sum.matrix[(j, i)] = sum.matrix[(i, j)];
        }
    }
    (sum.cost.is_finite() && sum.matrix.iter().all(|value| value.is_finite())).then_some(sum)
}

fn cost<const N: usize>(model: &impl Model<N>, at: &SVector<f64, N>) -> Option<f64> {
    let mut sum = 0.0;
    for index in 0..model.len() {
        let (residual, _) = model.residual(index, at)?;
        sum += residual * residual;
    }
    sum.is_finite().then_some(sum)
}

/// The column scale: the root of the diagonal, one where the column is empty.
fn scale<const N: usize>(matrix: &SMatrix<f64, N, N>) -> SVector<f64, N> {
    SVector::from_fn(|i, _| if matrix[(i, i)] > 0.0 { matrix[(i, i)].sqrt() } else { 1.0 })
}

/// `(A + λ D²)⁻¹ (−g)` in scaled unknowns; the first bad column when not positive definite.
fn step<const N: usize>(normal: &Normal<N>, damping: f64) -> Result<SVector<f64, N>, usize> {
    let d = scale(&normal.matrix);
    let scaled = SMatrix::<f64, N, N>::from_fn(|i, j| {
        normal.matrix[(i, j)] / (d[i] * d[j]) + if i == j { damping } else { 0.0 }
    });
    let factor = cholesky(&scaled, SMALLEST_PIVOT)?;
    let right = SVector::<f64, N>::from_fn(|i, _| -normal.gradient[i] / d[i]);
    let solved = solve_lower_upper(&factor, &right);
    Ok(SVector::from_fn(|i, _| solved[i] / d[i]))
}

/// The lower Cholesky factor, refused when a pivot falls to `least`.
fn cholesky<const N: usize>(matrix: &SMatrix<f64, N, N>, least: f64) -> Result<SMatrix<f64, N, N>, usize> {
    let mut factor = SMatrix::<f64, N, N>::zeros();
    for i in 0..N {
        for j in 0..=i {
            let mut sum = matrix[(i, j)];
            for k in 0..j {
                sum -= factor[(i, k)] * factor[(j, k)];
            }
            if i == j {
                if sum <= least || !sum.is_finite() {
                    return Err(i);
                }
                factor[(i, i)] = sum.sqrt();
            } else {
                factor[(i, j)] = sum / factor[(j, j)];
            }
        }
    }
    Ok(factor)
}

fn solve_lower_upper<const N: usize>(factor: &SMatrix<f64, N, N>, right: &SVector<f64, N>) -> SVector<f64, N> {
    let mut x = *right;
    for i in 0..N {
        for k in 0..i {
            x[i] -= factor[(i, k)] * x[k];
        }
        x[i] /= factor[(i, i)];
    }
    for i in (0..N).rev() {
        for k in i + 1..N {
            x[i] -= factor[(k, i)] * x[k];
        }
        x[i] /= factor[(i, i)];
    }
    x
}

/// `(JᵀJ)⁻¹` at a point.
fn covariance<const N: usize>(matrix: &SMatrix<f64, N, N>) -> Result<SMatrix<f64, N, N>, usize> {
    let d = scale(matrix);
    let scaled = SMatrix::<f64, N, N>::from_fn(|i, j| matrix[(i, j)] / (d[i] * d[j]));
    let factor = cholesky(&scaled, SMALLEST_PIVOT)?;
    let mut inverse = SMatrix::<f64, N, N>::zeros();
    for j in 0..N {
        let unit = SVector::<f64, N>::from_fn(|i, _| if i == j { 1.0 } else { 0.0 });
        let column = solve_lower_upper(&factor, &unit);
        for i in 0..N {
            inverse[(i, j)] = column[i] / (d[i] * d[j]);
        }
    }
    Ok(inverse)
}

/// How large a step is beside what it changes, in scaled unknowns.
fn relative<const N: usize>(step: &SVector<f64, N>, at: &SVector<f64, N>, d: &SVector<f64, N>) -> f64 {
    let (mut moved, mut size) = (0.0_f64, 0.0_f64);
    for i in 0..N {
        moved = moved.max((step[i] * d[i]).abs());
        size = size.max((at[i] * d[i]).abs());
    }
    if moved == 0.0 { 0.0 } else { moved / (size + f64::MIN_POSITIVE) }
}

/// Finds the minimum nearest downhill from `start`.
///
/// # Errors
/// [`FitError`].
pub fn fit<const N: usize>(model: &impl Model<N>, start: SVector<f64, N>) -> Result<Fit<N>, FitError> {
    let mut at = start;
    let mut now = normal(model, &at).ok_or(FitError::NoStart)?;
    let mut damping = 1e-3;
    let mut iterations = 0;
    loop {
        if iterations == MOST_STEPS {
            return Err(FitError::NotConverged);
        }
        iterations += 1;
        let mut improved = false;
        if let Ok(change) = step(&now, damping) {
            let next = at + change;
            let size = relative(&change, &at, &scale(&now.matrix));
            let there = cost(model, &next);
            // Only a lower cost is a step: between two places of equal cost it would go back and forth for ever where
            // all that is left is rounding.
            if there.is_some_and(|cost| cost < now.cost) {
                at = next;
                now = normal(model, &at).ok_or(FitError::NotConverged)?;
                damping = if damping < 1e-12 { 0.0 } else { damping / 10.0 };
                improved = true;
            }
            if size < 1e-9 && (improved || damping >= 1.0 || there == Some(now.cost)) {
                break;
            }
        }
        if !improved {
            damping = if damping == 0.0 { 1e-9 } else { damping * 10.0 };
            if damping > LARGEST_DAMPING {
                break;
            }
        }
    }
    finish(model, at, now, iterations)
}

/// Undamped steps until they no longer shrink: near the minimum the sum of squares is too flat to judge by.
fn finish<const N: usize>(
    model: &impl Model<N>,
    mut at: SVector<f64, N>,
    mut now: Normal<N>,
    mut iterations: u32,
) -> Result<Fit<N>, FitError> {
    let mut last = f64::INFINITY;
    for _ in 0..MOST_FINISHING_STEPS {
        let change = step(&now, 0.0).map_err(FitError::Singular)?;
        let d = scale(&now.matrix);
        let size = (0..N).map(|i| (change[i] * d[i]).powi(2)).sum::<f64>().sqrt();
        if size == 0.0 || size >= last {
            break;
        }
        let next = at + change;
        let Some(there) = normal(model, &next) else { break };
        // Far from a minimum an undamped step may climb; then the damped result stands.
        if there.cost > now.cost * (1.0 + 1e-9) + f64::MIN_POSITIVE && last.is_infinite() && size > 1e-6 {
            break;
        }
        (at, now, last) = (next, there, size);
        iterations += 1;
    }
    let covariance = covariance(&now.matrix).map_err(FitError::Singular)?;
    Ok(Fit { unknowns: at, sum_of_squares: now.cost, covariance, iterations })
}
