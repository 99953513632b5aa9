//! Refusals are data: which rule, one sentence, what it saw, what clears it, and what it concerns.

#[cfg(test)]
mod missed;
mod told;

pub use told::{Refusal, Subject, SubjectKind};

use serde::{Deserialize, Serialize};

macro_rules! rules {
    ($($(#[$doc:meta])* $variant:ident = $id:literal: $says:literal, $clears:literal;)*) => {
        /// Every rule that can refuse or block. The ids are part of the contract and keep their meaning.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
        pub enum Rule {
            $(#[doc = $says] $(#[$doc])* #[serde(rename = $id)] $variant,)*
        }

        impl Rule {
            /// All rules.
            pub const ALL: &'static [Self] = &[$(Self::$variant,)*];

            /// The rule's id on the wire.
            #[must_use]
            pub const fn id(self) -> &'static str {
                match self { $(Self::$variant => $id,)* }
            }

            /// The rule in one sentence.
            #[must_use]
            pub const fn says(self) -> &'static str {
                match self { $(Self::$variant => $says,)* }
            }

            /// What clears it, when nothing more particular is known.
            #[must_use]
            pub const fn clears(self) -> &'static str {
                match self { $(Self::$variant => $clears,)* }
            }

            /// Reads an id; `None` for anything else.
            #[must_use]
            pub fn from_id(id: &str) -> Option<Self> {
                match id { $($id => Some(Self::$variant),)* _ => None }
            }
        }
    };
}

rules! {
    // Gauges.
    GaugeForOtherMachine = "gauge-for-other-machine":
        "A centre gauge serves only the machine, and where it lists stations only the stations, it was cut for.",
        "Fetch the gauge that belongs to this machine.";
    GaugeUnknown = "gauge-unknown":
        "The scanned code must be a centre gauge that is on record.",
        "Scan the code on the gauge itself, or have it put on record.";
    GaugeNeverChecked = "gauge-never-checked":
        "A centre gauge is used only after a first accepted check.",
        "Have an inspector check the gauge and record it.";
    GaugeCheckOverdue = "gauge-check-overdue":
        "A centre gauge is used only while its check is in date.",
        "Have an inspector check the gauge and record it.";
    GaugeNotUsable = "gauge-not-usable":
        "A centre gauge is used only while its condition allows.",
        "Have an inspector check the gauge and set its condition.";
    GaugeStale = "gauge-stale":
        "After work that can move the spindle centres, a gauge is used only once it was checked against the machine again.",
        "Have an inspector check the gauge against the machine and record it.";
    GaugeStillInMachine = "gauge-still-in-machine":
        "Nothing turns and nothing is released while a centre gauge is in the machine, at any station.",
        "Take the gauge out and scan it as removed.";
    GaugeNotInHand = "gauge-not-in-hand":
        "A centre gauge is placed by the person who holds it, or from the machine's own place.",
        "Check the gauge out to the person who places it.";
    GaugeNotPlaced = "gauge-not-placed":
        "Height is read, and a gauge removed, only where that gauge is placed.",
        "Scan the gauge as placed at this station first.";
    GaugePlacedElsewhere = "gauge-placed-elsewhere":
        "A centre gauge is in one machine and at one station at a time.",
        "Scan it as removed where it is, then place it here.";
    // Gauge control.
    RebindingNotAccepted = "rebinding-not-accepted":
        "A centre gauge goes to another machine only with an accepted check against that machine.",
        "Have the gauge cut to that machine and checked against it, and record that check.";
    RebindingWhileInUse = "rebinding-while-in-use":
        "A centre gauge goes to another machine only while it is placed in none, in the shop, and with nobody but whoever asks.",
        "Take the gauge out, and have it brought back.";
    RebindingCheckTooOld = "rebinding-check-too-old":
        "The check that gives a centre gauge to another machine is done after the gauge was last used in the old one.",
        "Check the gauge against that machine now, and record that check.";
    ImpactClosed = "impact-closed":
        "Nothing is added to an impact document that is closed.",
        "Raise another document.";
    ImpactRunGoing = "impact-run-going":
        "A run gets its outcome, and its document is closed, only once its pieces are booked: until then nobody knows what it made.",
        "Record the stop of the run with its pieces, and take it up.";
    ImpactNotWorkedThrough = "impact-not-worked-through":
        "An impact document is closed only when every entry has an outcome, those that came since included.",
        "Give every entry an outcome.";
    // The machine.
    MachineRunning = "machine-running":
        "While a release is in force only readings, slide adjustments, a stop, a crash report and a hand-over are taken.",
        "Record the stop of the run first.";
    MachineTaggedOut = "machine-tagged-out":
        "A machine that is tagged out is not set, turned or released.",
        "Have maintenance clear the tag-out. The record is not a lock: follow the local lockout rules.";
    MachineRetired = "machine-retired":
        "A retired machine is not set up.",
        "Choose a machine in service.";
    AlreadyReleased = "already-released":
        "A setup is released once until its run is stopped.",
        "Record the stop of the run before releasing again.";
    NoReleaseInForce = "no-release-in-force":
        "A run is stopped only while a release is in force or was withdrawn with pieces still to book.",
        "Release the setup first.";
    TrialNotClear = "trial-not-clear":
        "The machine turns for a trial only with every gauge out, every station clamped and rechecked, stock fed and the index proven clear.",
        "Do the open steps; they are listed beside this refusal.";
    TrialNotBegun = "trial-not-begun":
        "Pieces are measured only after trial cutting began.",
        "Record the start of trial cutting first.";
    // Stations.
    StationUnknown = "station-unknown":
        "A step names a station that this setup uses.",
        "Name a station of this setup.";
    StationTaken = "station-taken":
        "A station is used once in a setup.",
        "Name each station once.";
    SeatNotConfirmed = "seat-not-confirmed":
        "A holder is used only on a clean seat, flush, with its side screw free.",
        "Clean the seat, remove burrs, seat the holder flush, free the side screw and confirm all three.";
    ToolDesignMismatch = "tool-design-mismatch":
        "The tool at a station is of the design that the part's operation there asks for.",
        "Fetch a tool of the design that the operation names.";
    ToolHandMismatch = "tool-hand-mismatch":
        "A tool's cutting face points the way the station needs it: up or down.",
        "Fetch a tool made for this face direction.";
    ToolBelowMinimumHeight = "tool-below-minimum-height":
        "A form tool is used only while its height is at or above the design's minimum.",
        "Fetch a tool with height left, or order one.";
    ToolNotUsable = "tool-not-usable":
        "A tool is used only while its condition allows.",
        "Fetch a usable tool, or have this one ground or checked, as it needs.";
    NotCheckedAfterGrind = "not-checked-after-grind":
        "A tool is used again only after it was checked following its last grind.",
        "Have the toolroom check the tool after its grind and record it.";
    HolderStyleMismatch = "holder-style-mismatch":
        "The holder at a station is of the style that the operation asks for.",
        "Fetch a holder of that style.";
    HolderNotUsable = "holder-not-usable":
        "A holder is used only while its condition allows and its check is in date.",
        "Fetch a usable holder, or have this one checked.";
    HolderNotSound = "holder-not-sound":
        "A holder is accepted only with a clean seat, free screws and nothing found that stops its use.",
        "Put it right and check it again, or record it as not accepted.";
    HolderNotSeated = "holder-not-seated":
        "A tool goes into a holder that is seated at the station.",
        "Record the holder as seated first.";
    ToolNotInserted = "tool-not-inserted":
        "Height is set and a tool is clamped only where a tool is inserted.",
        "Record the tool as inserted first.";
    NotClamped = "not-clamped":
        "Every tool is clamped before anything turns.",
        "Clamp the tool and record it.";
    StillClamped = "still-clamped":
        "The height screw is turned only with the tool unclamped.",
        "Record the tool as unclamped first.";
    HeightNotRead = "height-not-read":
        "A tool is clamped only after its height was read on the gauge, inside the limit.",
        "Place the gauge, bring the edge up and record the reading.";
    HeightOutsideLimit = "height-outside-limit":
        "The edge lies within the height limit of the gauge.",
        "Correct the height and read it again.";
    HeightInDoubt = "height-in-doubt":
        "A height counts only while nothing that was found since speaks against the gauge it was read on.",
        "Read the height again on a gauge that may be used.";
    HeightNotRechecked = "height-not-rechecked":
        "Clamping moves the tool: its height is read again after clamping.",
        "Place the gauge and record the reading after clamping.";
    StockNotFed = "stock-not-fed":
        "The index is proven clear with stock in every spindle.",
        "Feed stock and record it.";
    IndexClearanceNotConfirmed = "index-clearance-not-confirmed":
        "One full turn of the carrier by hand, with stock in every spindle, proves that nothing is struck.",
        "Turn the carrier by hand through one full turn, with stock in every spindle, and confirm it.";
    PieceFarAhead = "piece-far-ahead":
        "A piece's number is not far beyond the pieces that are known.",
        "Check the number of the piece, and record it again.";
    ApproachNotRead = "approach-not-read":
        "Each form starts its cut from a small, known gap, never in contact before the index is over.",
        "Read the gap at this station and record it.";
    DepthNotRead = "depth-not-read":
        "Where a depth is asked for, it is read again after every change that moves it.",
        "Measure the depth on a piece formed after the change and record it.";
    CrashNotCleared = "crash-not-cleared":
        "After a crash a station, and its neighbours, are used again only with holder and tool checked and put in anew.",
        "Have holder and tool checked, then seat and insert them again.";
    AdjusterUnknown = "adjuster-unknown":
        "An adjustment names a screw of the station, or of the holder that is seated there.",
        "Name an adjuster of this station or of its holder.";
    OperationMissing = "operation-missing":
        "A setup uses only stations at which the part has an operation.",
        "Leave the station out, or put the operation on the part's record.";
    // Pieces.
    FeatureUnknown = "feature-unknown":
        "A reading names a feature that the part has at that station.",
        "Name a feature of the operation at this station.";
    SpindleUnknown = "spindle-unknown":
        "A reading names a spindle that runs in this setup.",
        "Name a running spindle.";
    ReadingOutsideLimits = "reading-outside-limits":
        "A first piece is accepted only with every feature of the part read and inside its limits.",
        "Correct the setting, cut again and read every feature.";
    FirstPieceNotAccepted = "first-piece-not-accepted":
        "Nothing is released before a first piece was accepted, after the last adjustment.",
        "Have a first piece judged.";
    FirstPieceSamePerson = "first-piece-same-person":
        "A first piece is judged by someone who recorded nothing in this setup.",
        "Ask an inspector, or a setter who had no hand in this setup.";
    FirstPieceSpindleMissing = "first-piece-spindle-missing":
        "Where the shop asks for it, one piece from every running spindle is judged.",
        "Measure a piece from every running spindle.";
    PieceBeforeAdjustment = "piece-before-adjustment":
        "A piece that was already formed before the last adjustment says nothing about it.",
        "Throw away the pieces that were formed before, and measure the next.";
    InspectionPending = "inspection-pending":
        "What was made under a provisional release is held: nothing is released again, and no setup closed, before an inspector judged it.",
        "Stop the run and book its pieces, then have an inspector judge what is held.";
    NoPiecesHeld = "no-pieces-held":
        "Held pieces are judged only where a provisional release made some.",
        "Record a first piece as judged instead.";
    // The life of form tools.
    ToolHeightRises = "tool-height-rises":
        "A form tool's height only ever falls.",
        "Measure the height again.";
    ToolHeightDiffers = "tool-height-differs":
        "The height measured before a grind is the one on record, within what two measurements may differ.",
        "Measure again; if it stays so, record a check of the tool with its height first.";
    GrindCountGoesBack = "grind-count-goes-back":
        "A tool's count of grinds only ever rises.",
        "Read the count on the tool again, or leave it out.";
    ToolRetired = "tool-retired":
        "A retired tool is neither ground nor checked.",
        "Take another tool.";
    OwnGrindNotPassed = "own-grind-not-passed":
        "A grind is passed, and its edge found sound after burn or a crack, by somebody else than who did it.",
        "Ask an inspector or another grinder to check the tool.";
    BurnNotCleared = "burn-not-cleared":
        "After burn or a crack was seen a tool is passed only by a check that finds the edge sound.",
        "Test the edge, and say whether it is sound.";
    FindingNotCleared = "finding-not-cleared":
        "Burn or a crack that a check found goes with a grind that takes height, or by an inspector who says what was done.",
        "Have the tool ground, or have an inspector test the edge and say in edge_cleared what was done.";
    ProfileNotChecked = "profile-not-checked":
        "A tool is passed only with its profile compared with the design's.",
        "Compare the profile, and say so.";
    HeightNotMeasured = "height-not-measured":
        "A tool is passed after a grind only with its height measured.",
        "Measure the height and record it.";
    RakeNotMeasured = "rake-not-measured":
        "A tool is passed after a grind only with its rake measured.",
        "Measure the rake and record it.";
    RakeOff = "rake-off":
        "A tool is passed only with the rake of its design, within the design's tolerance.",
        "Record it as not accepted, and have it ground again.";
    FaceOffsetOff = "face-offset-off":
        "A circular tool is passed only with its face where the design has it, within the design's tolerance of the rake.",
        "Record it as not accepted, and have it ground again.";
    ReadingNotConfirmed = "reading-not-confirmed":
        "A reading far from what is expected, or a count of pieces that can hardly be, is taken only when it is confirmed.",
        "Measure or count again, and look at the unit; if it is so, send it again with confirmed: true.";
    RunNotBooked = "run-not-booked":
        "A tool is ground, and retired, only once the pieces of every run with it are booked.",
        "Record the stop of that setup's run with its pieces.";
    FaceOffsetNotMeasured = "face-offset-not-measured":
        "A circular tool is passed after a grind only with the offset of its face measured.",
        "Measure the face's distance from the tool's centre and record it.";
    GrindWithoutConsent = "grind-without-consent":
        "A tool that belongs to a customer is ground only with the owner's consent.",
        "Ask the owner, and record the consent.";
    RetireWithoutConsent = "retire-without-consent":
        "A tool that belongs to a customer is retired only with the owner's consent to scrap it.",
        "Ask the owner, and record the consent.";
    // Custody.
    ItemUnknown = "item-unknown":
        "A scanned code must be on record, as the kind of item that is asked for.",
        "Scan the code on the item itself, or have it put on record.";
    ItemHeldElsewhere = "item-held-elsewhere":
        "An item is handed out from where it is, and taken back from who has it.",
        "Take the item back, or transfer it, from where it is now.";
    ItemNotUsable = "item-not-usable":
        "An item is handed out for use only while its condition allows.",
        "Hand out another item, or hand this one out for grinding or checking.";
    ItemInSetup = "item-in-setup":
        "An item in an open setup is neither taken back nor transferred.",
        "Hand it out for grinding or checking, put another in its place, or close the setup first.";
    // Planning.
    ItemBooked = "item-booked":
        "An item serves one job on one day: it is not kept for two jobs whose days overlap.",
        "Take another item, move one of the jobs, or have the other booking cancelled.";
    WantedByOtherJob = "wanted-by-other-job":
        "Where two jobs on the same days want the same item, both are told until one has booked it.",
        "Book the item for the job that is to have it, or move one of the jobs.";
    NotNeededThere = "not-needed-there":
        "A job keeps only what one of its stations needs: tools of its operation's design, holders of its style.",
        "Name a station of the job that needs such an item.";
    JobNotOpen = "job-not-open":
        "Items are kept only for a job that is still to be made.",
        "Name a job that is planned.";
    ReservedForOtherPart = "reserved-for-other-part":
        "A tool that is kept for one part serves another only with its owner's consent.",
        "Take another tool, or record the owner's consent to lend it.";
    LifeTooShort = "life-too-short":
        "The tools of a job have enough pieces left for its lot.",
        "Have tools ground, order new ones, or make the lot smaller.";
    NoneOnRecord = "none-on-record":
        "For each need of a job something is on record that could serve it.",
        "Put the item on record, or order one.";
    OutForGrinding = "out-for-grinding":
        "A tool that is out to be ground serves no job until it is back and checked.",
        "Have it back and checked.";
    OutForCheck = "out-for-check":
        "An item that is out to be checked serves no job until it is back.",
        "Have it back with its check accepted.";
    OutsideTheShop = "outside-the-shop":
        "An item outside the shop serves no job.",
        "Have it brought back.";
    CheckDueInRun = "check-due-in-run":
        "The check of a gauge or holder is in date until the run ends.",
        "Have it checked before the run begins.";
    StationMissing = "station-missing":
        "The machine of a job has every station that its part asks for.",
        "Plan the job on another machine, or put the station on the machine's record.";
    MachinePlannedTwice = "machine-planned-twice":
        "A machine makes one job at a time: the next begins no earlier than the day on which the one before ends.",
        "Move one of the jobs, or plan it on another machine.";
    // Handing over.
    FloorChanged = "floor-changed":
        "Whoever takes over takes over the floor as it stands.",
        "Read the list as it stands now, then take over.";
    // Maintenance.
    PlanRetired = "plan-retired":
        "A work order is opened only from a plan that is in use.",
        "Take the plan into use again, or open the order without it.";
    PlanOrderOpen = "plan-order-open":
        "A plan has one open work order at a time.",
        "Finish or cancel the open order first.";
    WorkOrderStarted = "work-order-started":
        "A work order is started once.",
        "Finish the order, or cancel it.";
    WorkOrderEnded = "work-order-ended":
        "Nothing is done to a work order that is done or cancelled.",
        "Open a new order.";
    // Supplies.
    NotEnoughOnHand = "not-enough-on-hand":
        "No more is withdrawn than is on hand.",
        "Withdraw what there is, or count the shelf and record the count.";
    CountSuperseded = "count-superseded":
        "A count of an earlier moment does not change what a later count found.",
        "Count the shelf again.";
    CountContradicted = "count-contradicted":
        "What is withdrawn after a count was there when it was counted, or came in since.",
        "Count the shelf again and record that count.";
    // Setups.
    SetupAlreadyOpen = "setup-already-open":
        "A machine has one open setup at a time.",
        "Close or abandon the open setup first.";
    SetupClosed = "setup-closed":
        "Nothing is added to a setup that is closed.",
        "Open a new setup.";
    NotYourSetup = "not-your-setup":
        "A setup is closed by who is in charge of it: who opened it, or was handed it. A supervisor may close anyone's.",
        "Have it handed over to you, or ask a supervisor.";
}

#[cfg(test)]
mod tests {
    use super::Rule;

    #[test]
    fn rule_ids_come_back_and_are_unique() {
        let mut seen = std::collections::BTreeSet::new();
        for rule in Rule::ALL {
            assert_eq!(Rule::from_id(rule.id()), Some(*rule));
            assert!(seen.insert(rule.id()), "{} twice", rule.id());
            assert!(rule.says().ends_with('.') && rule.clears().ends_with('.'), "{}", rule.id());
        }
    }
}
