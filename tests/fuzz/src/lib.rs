//! What every target has in common: the assertion, which is the one of the core's own tests.

#[path = "../../../core/tests/body/mod.rs"]
mod body;

#[doc(hidden)]
pub use libfuzzer_sys::fuzz_target;

/// Sends bytes as a calculation's request.
///
/// # Panics
/// When the calculation panics, or answers with something that is not a number.
pub fn check(calculation: &str, body: &[u8]) {
    body::check(calculation, body);
}

/// The fuzz target of a calculation.
#[macro_export]
macro_rules! target {
    ($calculation:literal) => {
        $crate::fuzz_target!(|body: &[u8]| $crate::check($calculation, body));
    };
}
