//! Database errors as problems: what a caller may know of them.

use super::{Problem, ProblemCode};
use dovetally_db::{Constraint, Error, Failure};

impl From<Error> for Problem {
    fn from(error: Error) -> Self {
        let problem = match &error {
            Error::Busy(_) | Error::Again(_) | Error::Storage(_) => Self::busy(1),
            Error::StorageFull(_) => Self::storage_full(),
            // The last guards: somebody else wrote in between, and the same request is judged anew when it comes again.
            Error::Constraint {
                constraint:
                    Constraint::EventNumber
                    | Constraint::MovementNumber
                    | Constraint::ItemInSetup
                    | Constraint::GaugeInMachine
                    | Constraint::GaugeAtStation
                    | Constraint::ReleaseInForce
                    | Constraint::SupplyMovementNumber
                    | Constraint::SubjectVersion,
                ..
            } => Self::busy(1),
            Error::Constraint { .. } | Error::Panicked | Error::Unreadable(_) | Error::Other(_) => {
                Self::new(ProblemCode::Internal, "the server failed; its log has the cause under the trace id")
            }
        };
        problem.because(error)
    }
}

impl Failure for Problem {
    fn database(&self) -> Option<&Error> {
        let mut cause = self.cause()?;
        // A problem that explains another keeps it as its cause.
        while let Some(inner) = cause.downcast_ref::<Self>() {
            cause = inner.cause()?;
        }
        cause.downcast_ref()
    }
}
