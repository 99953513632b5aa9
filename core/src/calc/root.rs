//! The root of a function that grows, by Newton's steps inside a bracket that halves when a step leaves it.

/// Finds `x` between `low` and `high` where `function`, which gives a value and its slope, passes from below zero to
/// above it. Converges to the last bits; a function that never crosses ends at one of the bounds.
pub(crate) fn rising(mut low: f64, mut high: f64, start: f64, function: impl Fn(f64) -> (f64, f64)) -> f64 {
    const MOST_STEPS: u32 = 300;
    let mut x = start.clamp(low, high);
    for _ in 0..MOST_STEPS {
        let (value, slope) = function(x);
        if value == 0.0 {
            return x;
        }
        if value < 0.0 {
            low = x;
        } else {
            high = x;
        }
        let newton = x - value / slope;
        let next = if newton > low && newton < high { newton } else { f64::midpoint(low, high) };
        if (next - x).abs() <= 2.0 * f64::EPSILON * x.abs() || next == low || next == high {
            return next;
        }
        x = next;
    }
    x
}

#[cfg(test)]
mod tests {
    use super::rising;

    #[test]
    fn roots_are_found_to_the_last_bits() {
        assert!((rising(0.0, 10.0, 9.0, |x| (x * x - 2.0, 2.0 * x)) - 2.0_f64.sqrt()).abs() < 1e-15);
        // A slope that misleads: every Newton step of the cube root leaves the bracket.
        let root = rising(-1.0, 2.0, 1.5, |x| (x.cbrt(), 1.0 / (3.0 * x.cbrt().powi(2))));
        assert!(root.abs() < 1e-60, "{root}");
        assert!((rising(0.0, 1.0, 0.5, |_| (-1.0, 1.0)) - 1.0).abs() < 1e-15);
    }
}
