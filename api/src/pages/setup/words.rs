//! The words of a setup's pages: what each step is called, what is to be done, and what is said once it is done.

use crate::pages::wording::{Phrase, section};
use dovetally_core::setup::event::{EventKind, HeightPhase};
use serde::Deserialize;

section! {
    /// One step.
    StepWords { name, lead, done }
}

macro_rules! steps {
    ($($name:ident: $kind:ident $(, $phase:ident)?;)*) => {
        /// Every step that somebody takes.
        #[derive(Debug, Deserialize)]
        #[serde(deny_unknown_fields)]
        pub struct Steps {
            $(#[doc = concat!("`", stringify!($name), "`, as the wording file has it.")]
            pub $name: StepWords,)*
        }

        impl Steps {
            /// A step by the kind of event that records it; nothing for those that nobody records by hand.
            #[must_use]
            pub fn of(&self, kind: EventKind, phase: Option<HeightPhase>) -> Option<&StepWords> {
                // A height that is not told to be one after clamping is one before.
                let phase = phase.unwrap_or(HeightPhase::BeforeClamping);
                match (kind, phase) {
                    $((EventKind::$kind, steps!(@phase $($phase)?)) => Some(&self.$name),)*
                    _ => None,
                }
            }
        }
    };
    (@phase) => { _ };
    (@phase $phase:ident) => { HeightPhase::$phase };
}

steps! {
    holder_seated: HolderSeated;
    tool_inserted: ToolInserted;
    gauge_placed: GaugePlaced;
    height_before: HeightRead, BeforeClamping;
    height_after: HeightRead, AfterClamping;
    tool_clamped: ToolClamped;
    tool_unclamped: ToolUnclamped;
    tool_removed: ToolRemoved;
    holder_removed: HolderRemoved;
    gauge_removed: GaugeRemoved;
    stock_fed: StockFed;
    index_clear: IndexClearanceConfirmed;
    approach_read: ApproachRead;
    trial_begun: TrialCutBegun;
    sizes_read: SizesRead;
    depth_read: DepthRead;
    adjusted: Adjusted;
    first_piece: FirstPieceJudged;
    released: RunReleased;
    held_judged: HeldPiecesJudged;
    run_stopped: RunStopped;
    crash: CrashReported;
    handed_over: HandedOver;
    closed: Closed;
    abandoned: Abandoned;
}

section! {
    /// A setup.
    SetupWords {
        heading, station_heading, for_job, in_charge, opened, setting, released, stopped, closed, abandoned,
        last_done, last_done_at, release_withdrawn, trial_withdrawn, item_taken_out, blocks, blocks_one, blocks_next,
        blocks_next_one, blocks_none, next_title, next_here, to_next, to_overview, look_again, start_next, measure,
        stations, machine, left_out, others, others_here, nothing_here, not_now, not_yet, not_usable, somebody_else,
        change_person, refused, station_open, station_open_one, station_done, station_gauge, station_crashed, holder_sits,
        holder_unsure, no_holder, tool_in, no_tool, gauge_in, height_before, height_before_on, height_before_off,
        height_after, height_after_on, height_after_off, clamped, not_clamped, recheck, gap, depth_read, depth_open,
        crashed, no_stock, stock, index_clear, index_open, trial, no_trial, first_good, first_bad, first_provisional,
        first_none, run_on, run_provisional, run_none, to_book, pieces, pieces_held, pieces_rejected, done_title, clamped_now,
        loose_now, turned_now, trial_now, stopped_now, release_provisional, release_provisional_lead, hours, minutes,
        picked_holder, picked_tool, any_holder, any_tool, scan_holder, scan_tool, scan_gauge, scan_badge, use_it,
        show_item, seat_lead, seat_clean, seated_flush, side_screw_free, seat_all, seat_not, seat_save, gauge_right,
        gauge_wrong, gauge_not, gauge_of, gauge_of_whom, gauge_stopped, height_on, height_off, height_lead_up,
        height_lead_down, height_box, height_limit, height_nothing, gap_box, gap_then, read_it,
        stock_box, stock_shape, shape_round, shape_hexagon, shape_square, shape_other, stock_heat, shape_missing,
        pieces_box, pieces_bad, pieces_keep, reason, reason_missing, stop_lead, piece_box, piece_from, piece_bad,
        spindle, spindle_unknown, feature, feature_of_spindle, judge_read_back, judge_inside, judge_outside,
        judge_missing, judge_unread, accept, accept_held, accept_provisional, reject, then_title, then_none,
        then_when, then_took, then_pieces, then_tool, then_holder, then_clockwise, then_counterclockwise,
        then_height_on, then_height, then_gap, then_size, then_size_spindle, then_stop, then_trouble, caution_hands, caution_hands_more,
        caution_turns, stock_told, stock_told_heat, stock_more
    }
}

section! {
    /// Starting a setup.
    SetupStartWords {
        title, lead, open_already, go_on, look, pieces, days, ready, conflict, short, closed, other_part, no_jobs,
        no_station, part_box, part_go, unknown, for_job, kit, use_station, tool, holder, no_tool, no_holder, gauge, no_gauge,
        assumptions, start, choose_another, scan
    }
}

impl SetupWords {
    /// What one tap records, as a statement: whoever taps says what is so, and orders nothing of the machine.
    #[must_use]
    pub const fn tap(&self, kind: EventKind) -> Option<&Phrase> {
        match kind {
            EventKind::ToolClamped => Some(&self.clamped_now),
            EventKind::ToolUnclamped => Some(&self.loose_now),
            EventKind::IndexClearanceConfirmed => Some(&self.turned_now),
            EventKind::TrialCutBegun => Some(&self.trial_now),
            EventKind::RunStopped => Some(&self.stopped_now),
            _ => None,
        }
    }

    /// So many minutes, in hours where they come out even.
    #[must_use]
    pub fn lasting(&self, minutes: u32) -> String {
        match (minutes / 60, minutes % 60) {
            (hours, 0) if hours > 1 => self.hours.with("count", hours).to_string(),
            _ => self.minutes.with("count", minutes).to_string(),
        }
    }

    /// What is said of an event that nobody records by hand.
    #[must_use]
    pub const fn derived(&self, kind: EventKind) -> Option<&Phrase> {
        match kind {
            EventKind::ReleaseWithdrawn => Some(&self.release_withdrawn),
            EventKind::TrialWithdrawn => Some(&self.trial_withdrawn),
            EventKind::ItemTakenOut => Some(&self.item_taken_out),
            _ => None,
        }
    }
}
