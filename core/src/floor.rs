//! The floor at a glance: which machines need somebody first.

use crate::{machine::MachineState, names::named};

named! {
    /// What a machine needs. The first in this order is what somebody goes to first.
    Need {
        /// It is tagged out: somebody has to put it right and clear the tag-out.
        Cleared = "cleared",
        /// A release is in force, and the records stand against running on.
        Stopped = "stopped",
        /// Pieces of a provisional release wait for an inspector, or are being made for one.
        Judged = "judged",
        /// A setup is open: somebody sets it, or takes it up again.
        Set = "set",
        /// Nothing is set up on it.
        Planned = "planned",
        /// It runs, and nothing on record stands against that.
        Nothing = "nothing",
    }
}

/// What a machine needs, by how it stands: `permitted` is what its run permit says for production, `held` whether
/// a provisional release made pieces, or makes them, that nobody judged yet.
#[must_use]
pub const fn need(state: MachineState, permitted: bool, held: bool) -> Need {
    match (state, permitted, held) {
        (MachineState::TaggedOut, _, _) => Need::Cleared,
        (MachineState::Running, false, _) => Need::Stopped,
        (MachineState::Running | MachineState::Setting, _, true) => Need::Judged,
        (MachineState::Setting, _, false) => Need::Set,
        (MachineState::Idle | MachineState::Retired, _, _) => Need::Planned,
        (MachineState::Running, true, false) => Need::Nothing,
    }
}

#[cfg(test)]
mod tests {
    use super::{Need, need};
    use crate::machine::MachineState;

    #[test]
    fn what_is_gravest_comes_first() {
        for (state, permitted, held, wanted) in [
            (MachineState::TaggedOut, false, true, Need::Cleared),
            (MachineState::Running, false, true, Need::Stopped),
            (MachineState::Running, false, false, Need::Stopped),
            (MachineState::Running, true, true, Need::Judged),
            (MachineState::Setting, false, true, Need::Judged),
            (MachineState::Setting, false, false, Need::Set),
            (MachineState::Idle, false, false, Need::Planned),
            (MachineState::Running, true, false, Need::Nothing),
        ] {
            assert_eq!(need(state, permitted, held), wanted, "{state} {permitted} {held}");
        }
    }
}
