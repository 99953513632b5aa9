//! What the trade finds wrong with fields, as a problem.

use crate::problem::Problem;
use dovetally_core::field_error::FieldError;

/// Faults of the trade's fields as a problem; nothing when there are none.
///
/// # Errors
/// 422 with all of them.
pub fn no_faults(faults: Vec<FieldError>) -> Result<(), Problem> {
    let mut faults = faults.into_iter();
    let Some(first) = faults.next() else { return Ok(()) };
    let problem = Problem::field(first.pointer, first.detail);
    Err(faults.fold(problem, |problem, fault| problem.and_field(fault.pointer, fault.detail)))
}

/// The same for faults that there are.
pub(crate) fn faulty(faults: Vec<FieldError>) -> Problem {
    no_faults(faults).err().unwrap_or_else(|| Problem::internal("something was refused for nothing"))
}
