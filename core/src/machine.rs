//! Machines: stations, faces, modes.

use crate::names::named;

named! {
    /// What a station carries.
    StationKind {
        /// A slide across the spindle: form tools, cut-off, shave.
        CrossSlide = "cross_slide",
        /// A slide along the spindle: drills, reamers, counterbores.
        EndSlide = "end_slide",
    }
}

named! {
    /// Which way the cutting face of the tool at a station looks.
    ToolFace {
        /// Face up: the work turns down past the edge.
        Up = "up",
        /// Face down: an inverted tool.
        Down = "down",
    }
}

named! {
    /// The machine guard's mode. Gauge and running exclude each other in the schema too.
    MachineMode {
        /// No gauge in the machine and no release in force.
        Idle = "idle",
        /// At least one centre gauge is in the machine.
        Gauge = "gauge",
        /// A release is in force.
        Running = "running",
    }
}

named! {
    /// What people see of a machine.
    MachineState {
        /// No setup is open.
        Idle = "idle",
        /// A setup is open and not released.
        Setting = "setting",
        /// A release is in force.
        Running = "running",
        /// Taken out of service by a tag-out. A record, not a lock.
        TaggedOut = "tagged_out",
        /// Out of the shop's use for good.
        Retired = "retired",
    }
}

named! {
    /// Which way the spindle turns, seen from the free end of the bar.
    SpindleRotation {
        /// Clockwise.
        Clockwise = "clockwise",
        /// Counterclockwise.
        Counterclockwise = "counterclockwise",
    }
}
