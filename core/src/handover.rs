//! Handing over: whoever takes over a shift takes over the floor as they read it, and no other.

use crate::{
    field_error::{FieldError, FieldErrors},
    findings::{Findings, RuleSet},
    refusal::{Refusal, Rule},
};

/// Everything that cannot be in what is said with it.
#[must_use]
pub fn check_note(note: Option<&str>) -> Vec<FieldError> {
    let mut errors = FieldErrors::default();
    if let Some(note) = note {
        errors.require_text(note, 1000, "/note");
    }
    errors.into_vec()
}

/// Whether the floor may be taken over: `read` names the list that whoever takes over has read, `stands` the list as it
/// stands now.
///
/// # Errors
/// When anything on the list has changed since it was read.
pub fn take_over(read: &str, stands: &str) -> Result<(), Vec<Refusal>> {
    let mut findings = Findings::under(RuleSet::ALL);
    findings.add_if(read != stands, || {
        Refusal::new(Rule::FloorChanged, "Something on the list has changed since it was read.")
    });
    if findings.is_empty() { Ok(()) } else { Err(findings.into_refusals()) }
}

#[cfg(test)]
mod tests {
    use super::check_note;

    #[test]
    fn a_note_has_words_or_is_left_out() {
        assert!(check_note(None).is_empty());
        assert!(check_note(Some("M-102 waits for bar")).is_empty());
        assert_eq!(check_note(Some(" ")).len(), 1);
        assert_eq!(check_note(Some(&"x".repeat(1001))).len(), 1);
    }
}
