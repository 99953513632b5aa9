//! Plane geometry of a form tool's cutting face: where each diameter of the work meets it.
//!
//! The edge that cuts the smallest radius `r₁` stands on centre, at `(r₁, 0)`. The face falls away from it by the rake
//! `γ`; the edge of a step lies at a distance `s` along the face, at `(r₁ + s cos γ, −s sin γ)`.

/// The distance along the cutting face from the edge of radius `smallest` to that of radius `radius`:
/// `s = √(r² − (r₁ sin γ)²) − r₁ cos γ`, written so that close radii lose no digits. Any one unit; `rake` in radians.
/// Source: circle and line; the handbook's rule for dimensions of formed tools (recalled).
#[must_use]
pub fn face_length(smallest: f64, radius: f64, rake: f64) -> f64 {
    let (sine, cosine) = rake.sin_cos();
    let along = smallest * cosine;
    let root = (radius * radius - (smallest * sine).powi(2)).max(0.0).sqrt();
    (radius - smallest) * (radius + smallest) / (root + along)
}

/// The radius cut at a distance along the cutting face: the inverse of [`face_length`].
#[must_use]
pub fn radius_at(smallest: f64, along_face: f64, rake: f64) -> f64 {
    let (sine, cosine) = rake.sin_cos();
    (smallest + along_face * cosine).hypot(along_face * sine)
}

/// The edge of a step, `(x, y)` with the smallest radius on centre.
#[must_use]
pub fn edge(smallest: f64, radius: f64, rake: f64) -> (f64, f64) {
    let along = face_length(smallest, radius, rake);
    let (sine, cosine) = rake.sin_cos();
    (smallest + along * cosine, -along * sine)
}

/// The depth of a step on a flat tool, normal to its front face: `T = s cos(α + γ)`.
#[must_use]
pub fn flat_tool_depth(along_face: f64, clearance: f64, rake: f64) -> f64 {
    along_face * (clearance + rake).cos()
}

/// The distance along the cutting face of a step of that depth: the inverse of [`flat_tool_depth`].
#[must_use]
pub fn along_face_of_depth(depth: f64, clearance: f64, rake: f64) -> f64 {
    depth / (clearance + rake).cos()
}

/// The radius of a circular tool at a distance along its cutting face from its largest radius: the face lies
/// `H = R sin(α + γ)` below the tool's centre and the outer edge `X = R cos(α + γ)` beside it, so
/// `√((X − s)² + H²)`. `None` when the step would reach past the foot of the centre, where no tool is left to cut.
#[must_use]
pub fn circular_tool_radius(tool_radius: f64, clearance: f64, rake: f64, along_face: f64) -> Option<f64> {
    let (offset, beside) = (clearance + rake).sin_cos();
    let left = tool_radius * beside - along_face;
    (left > 0.0).then(|| left.hypot(tool_radius * offset))
}

/// The distance along the cutting face of a circular tool's step of radius `step_radius`: the inverse of
/// [`circular_tool_radius`]. `None` when the face does not reach that radius.
#[must_use]
pub fn along_face_of_circular(tool_radius: f64, clearance: f64, rake: f64, step_radius: f64) -> Option<f64> {
    let (offset, beside) = (clearance + rake).sin_cos();
    let height = tool_radius * offset;
    let left = (step_radius - height) * (step_radius + height);
    (left >= 0.0).then(|| tool_radius * beside - left.sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        /// Profile, then inverse profile, is identity: flat tools.
        #[test]
        fn a_flat_profile_reads_back(r1 in 0.5..50.0_f64, step in 0.0..40.0_f64, alpha in 0.0..30.0_f64, gamma in -15.0..30.0_f64) {
            let (alpha, gamma) = (alpha.to_radians(), gamma.to_radians());
            let depth = flat_tool_depth(face_length(r1, r1 + step, gamma), alpha, gamma);
            let back = radius_at(r1, along_face_of_depth(depth, alpha, gamma), gamma);
            prop_assert!((back - (r1 + step)).abs() < 1e-12 * (r1 + step), "{back}");
        }

        /// Profile, then inverse profile, is identity: circular tools.
        #[test]
        fn a_circular_profile_reads_back(r1 in 0.5..20.0_f64, step in 0.0..10.0_f64, alpha in 1.0..20.0_f64, gamma in 0.0..20.0_f64) {
            let (alpha, gamma) = (alpha.to_radians(), gamma.to_radians());
            let along = face_length(r1, r1 + step, gamma);
            let radius = circular_tool_radius(40.0, alpha, gamma, along).unwrap();
            let back = along_face_of_circular(40.0, alpha, gamma, radius).unwrap();
            prop_assert!((back - along).abs() < 1e-11, "{back} {along}");
        }

        /// The edge of a step lies on the circle it cuts.
        #[test]
        fn an_edge_lies_on_its_circle(r1 in 0.5..50.0_f64, step in 0.0..40.0_f64, gamma in -30.0..30.0_f64) {
            let (x, y) = edge(r1, r1 + step, gamma.to_radians());
            prop_assert!((x.hypot(y) - (r1 + step)).abs() < 1e-12 * (r1 + step));
        }
    }
}
