//! What to turn: the screws that the last reading at a station asks for, or that it is left alone. What was turned is recorded
//! as the API records it.

mod amount;
mod around;
mod told;
mod turned;

use super::{
    frame::{Frame, go_to, page, page_with},
    setup::Walk,
    sizes::{self, AtMachine},
    visit::{Faults, Sent, Visit},
    wording::{Phrase, ToldRefusal, section},
};
use crate::{
    app::setups::{names, turned_in, wear_of},
    extract::Segments,
    principal::{Read, RecordSetup},
    problem::{Problem, ProblemCode},
    transport::{setup::People, wear::WearView},
};
use actix_web::{HttpResponse, http::StatusCode, web::Query};
use around::{
    Elsewhere, Stands, before, drift, elsewhere, in_other_unit, last_spindle, measure, stands, throw_away,
    without_advice,
};
use askama::Template;
use dovetally_core::{
    adjuster::AdjusterKind,
    code::Code,
    ids::SetupId,
    people::Permission,
    setup::{advice::Advice, state::Setup},
};
use serde::Deserialize;
use told::{Shown, shown};
use turned::Turned;

section! {
    /// What to turn.
    AdjustWords {
        title, turn_clockwise, turn_counterclockwise, one_turn, many_turns, exactly, exactly_flats, exactly_one_flat,
        step, moves_tool_in, moves_tool_out, moves_edge_up, moves_edge_down, moves_far_diameter_up,
        moves_far_diameter_down, moves_toward_collet, moves_away_from_collet, moves_deeper, moves_shallower, stop_first,
        stop_after, lost_motion, lost_motion_against, unclamp, stop_run, expected, known_to, throw_away_none,
        throw_away_one, throw_away_many, throw_away_one_any, throw_away_many_any, tight, free, answer, otherwise,
        turns_of, turns_unit, turns_odd, clockwise, counterclockwise, way, done, done_height, not_recorded, meanwhile,
        leave_alone, stands, spread, drifts, measure_next, measure_again, measure_here, nothing_read, known_inside,
        known_outside, why, last_time, last_time_none, last_time_untouched, last_time_turned, last_time_turned_once,
        last_time_cancelled, so_far, so_far_one, elsewhere, other, advised_turn, advised_alone, advised_look,
        advised_known, advised_none, look_only, hands, hands_more
    }
}

/// What the last reading asks for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Asks {
    /// Nothing was read since the last change.
    Nothing,
    /// Screws to turn.
    Turns,
    /// Leave it alone.
    Alone,
    /// Something else: another look, another piece.
    Look,
    /// Sizes are known, and nothing is advised on them.
    Known,
}

/// Which station.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Asked {
    station: String,
}

/// Why what was turned is not recorded.
#[derive(Default)]
struct Refused {
    faults: Faults,
    refusals: Vec<ToldRefusal>,
    meanwhile: bool,
}

impl Refused {
    const fn is_none(&self) -> bool {
        self.faults.is_empty() && self.refusals.is_empty() && !self.meanwhile
    }
}

#[derive(Template)]
#[template(path = "pages/adjust.html")]
struct AdjustPage<'p> {
    frame: &'p Frame,
    walk: &'p Walk,
    id: SetupId,
    setup: &'p Setup,
    station: usize,
    asks: Asks,
    advice: Option<&'p Advice>,
    turns: Vec<Shown>,
    refused: Refused,
    typed: &'p Turned,
    before: Vec<&'p Phrase>,
    throw_away: Option<String>,
    last_spindle: Option<u8>,
    stands: Vec<Stands>,
    /// What is said of sizes on which nothing is advised.
    without_advice: Vec<String>,
    /// What is told of the drift here, where one stands out.
    drift: Option<String>,
    measure: (String, String),
    so_far: Vec<String>,
    last_time: Vec<String>,
    /// What the page says of lengths, in the other unit.
    in_other_unit: Vec<String>,
    elsewhere: Vec<Elsewhere>,
}

impl AdjustPage<'_> {
    fn code(&self) -> &Code {
        &self.setup.plan.stations[self.station].code
    }

    fn may(&self) -> bool {
        self.frame.may(Permission::RecordSetup)
    }

    /// Whether screws are to be turned: that comes first on the page.
    fn comes_first(&self) -> bool {
        self.asks == Asks::Turns
    }

    fn is_height(&self) -> bool {
        self.turns.iter().any(|turn| turn.kind == AdjusterKind::Height)
    }

    fn moves_holder(&self) -> bool {
        self.turns.iter().any(|turn| turn.moves_holder)
    }

    fn told(&self, sentence: &str) -> String {
        self.frame.told(sentence)
    }

    /// What to expect afterwards, in both units.
    fn expected(&self) -> Option<String> {
        let expected = &self.advice?.expected;
        let sizes = expected.iter().map(|expected| {
            let shown = self.frame.length(&expected.size);
            format!("{} {} ({})", expected.feature, shown.entered, shown.other)
        });
        let sizes = sizes.collect::<Vec<_>>().join(", ");
        (!sizes.is_empty()).then(|| self.frame.words.adjust.expected.with("sizes", sizes).to_string())
    }

    fn known_to(&self) -> Option<String> {
        self.advice?.known_to.map(|known| self.frame.mark().calculated(known).entered)
    }

    /// The id of a screw's box.
    fn box_of(&self, turn: &Shown) -> &'static str {
        turned::box_of(turn.number)
    }

    fn is_otherwise(&self) -> bool {
        self.turns.iter().any(|turn| turn.otherwise || !self.refused.faults.of(self.box_of(turn)).is_empty())
    }

    fn measure_here(&self) -> String {
        sizes::address(self.id, &[("station", self.code().as_str())])
    }

    /// Where another piece of the spindle is measured that was read last.
    fn same_spindle(&self) -> String {
        let spindle = self.last_spindle.map(|spindle| spindle.to_string()).unwrap_or_default();
        sizes::address(self.id, &[("station", self.code().as_str()), ("spindle", &spindle)])
    }

    fn address(&self, station: &Code) -> String {
        address(self.id, station)
    }

    fn charts_page(&self) -> String {
        super::setup_charts::address(self.id)
    }
}

/// The page's address for a station.
pub(crate) fn address(setup: SetupId, station: &Code) -> String {
    let query = serde_urlencoded::to_string([("station", station.as_str())]).unwrap_or_default();
    format!("/setups/{setup}/adjust?{query}")
}

/// What the page needs beside the setup.
struct Known {
    at: AtMachine,
    /// Whoever turned a screw in it.
    people: People,
    wear: WearView,
}

async fn known<A: 'static>(visit: &Visit<A>, id: SetupId) -> Result<Known, Problem> {
    let at = AtMachine::of(visit, id).await?;
    let turned = at.walk.loaded.setup.stations.iter().flat_map(|state| state.adjustments.iter().map(|taken| taken.by));
    let turned: Vec<_> = turned.collect();
    let known = visit.read(move |connection| {
        Ok(Known { people: names(connection, turned)?, wear: wear_of(connection, &at.walk.loaded, None)?, at })
    });
    known.await
}

/// Shows what is to be turned.
///
/// # Errors
/// 404 when there is no such setup.
pub async fn show(visit: Visit<Read>, id: Segments<SetupId>, asked: Query<Asked>) -> Result<HttpResponse, Problem> {
    let known = known(&visit, id.into_inner()).await?;
    let station = station(&known.at.walk.loaded.setup, &asked.station)?;
    let advice = advice_at(&known.at.walk.loaded.setup, station);
    page(&laid_out(&visit.frame, &known, station, advice.as_ref(), &Turned::default(), Refused::default()))
}

/// The station that is named; else the first at which something is to be turned, else the first that was read.
fn station(setup: &Setup, named: &str) -> Result<usize, Problem> {
    let named = Code::parse(named).ok().and_then(|code| setup.plan.index_of(&code));
    let all = 0..setup.plan.stations.len();
    let asks =
        |wanted: Asks| all.clone().find(|index| asked_for(setup, *index, advice_at(setup, *index).as_ref()) == wanted);
    let found = named.or_else(|| asks(Asks::Turns)).or_else(|| asks(Asks::Look)).or_else(|| asks(Asks::Alone));
    let found = found.or_else(|| asks(Asks::Known));
    let first = if setup.plan.stations.is_empty() { None } else { Some(0) };
    found.or(first).ok_or_else(|| Problem::not_found("station of setup", setup.plan.setup))
}

fn advice_at(setup: &Setup, station: usize) -> Option<Advice> {
    setup.stations[station].advice.as_ref().and_then(Advice::of_stored)
}

fn asked_for(setup: &Setup, station: usize, advice: Option<&Advice>) -> Asks {
    match advice {
        None if setup.sizes_by_spindle(station).is_empty() => Asks::Nothing,
        None => Asks::Known,
        Some(advice) if !advice.turns(setup, station).is_empty() => Asks::Turns,
        Some(advice) if advice.leave_alone => Asks::Alone,
        Some(_) => Asks::Look,
    }
}

fn laid_out<'p>(
    frame: &'p Frame,
    known: &'p Known,
    station: usize,
    advice: Option<&'p Advice>,
    typed: &'p Turned,
    refused: Refused,
) -> AdjustPage<'p> {
    let loaded = &known.at.walk.loaded;
    let setup = &loaded.setup;
    let advised = advice.map(|advice| advice.turns(setup, station)).unwrap_or_default();
    let asks = asked_for(setup, station, advice);
    let stands = stands(frame, setup, station);
    AdjustPage {
        frame,
        walk: &known.at.walk,
        id: loaded.row.id,
        setup,
        station,
        asks,
        advice,
        turns: advised.iter().enumerate().map(|(index, turn)| shown(frame, typed, index + 1, turn)).collect(),
        before: before(frame, setup, station, &advised),
        throw_away: advice.filter(|_| asks == Asks::Turns).map(|advice| throw_away(frame, known, station, advice)),
        last_spindle: last_spindle(known, station),
        in_other_unit: in_other_unit(frame, asks, &stands, advice),
        stands,
        without_advice: without_advice(frame, setup, station),
        drift: drift(frame, known, station),
        measure: measure(frame, setup, station),
        so_far: told::so_far(frame, known, station),
        last_time: told::last_time(frame, known.at.walk.then.as_ref(), &setup.plan.stations[station].code),
        elsewhere: elsewhere(frame, setup, station),
        typed,
        refused,
    }
}

/// Records what was turned, and leads to measuring again.
///
/// # Errors
/// 404 when there is no such setup; what is no refusal of a rule.
pub async fn record(
    visit: Visit<RecordSetup>,
    id: Segments<SetupId>,
    sent: Sent<Turned>,
) -> Result<HttpResponse, Problem> {
    let (id, typed) = (id.into_inner(), &sent.form);
    let mut refused = Refused::default();
    let screws = typed.read(&visit.frame, &mut refused.faults);
    let code = Code::parse(&typed.station).map_err(|error| Problem::field("/station", error.to_string()))?;
    if screws.is_empty() && refused.faults.is_empty() {
        return Ok(go_to(&address(id, &code)));
    }
    let mut status = StatusCode::UNPROCESSABLE_ENTITY;
    if refused.faults.is_empty() {
        let (station, seen) = (code.clone(), typed.seen.parse().unwrap_or(-1));
        let then = sizes::address(id, &[("station", code.as_str())]);
        let done = visit.perform(&sent, move |tx, who| {
            turned_in(tx, who, id, &station, seen, &screws)?;
            Ok(then.clone())
        });
        match done.await {
            Ok(address) => return Ok(go_to(&address)),
            Err(problem) => match problem.code() {
                ProblemCode::Refused => refused.refusals = visit.frame.refusals(problem.refused_by()),
                ProblemCode::PreconditionFailed => {
                    refused.meanwhile = true;
                    status = StatusCode::CONFLICT;
                }
                _ => return Err(problem),
            },
        }
    }
    let known = known(&visit, id).await?;
    let station = station(&known.at.walk.loaded.setup, code.as_str())?;
    let advice = advice_at(&known.at.walk.loaded.setup, station);
    // What was typed belongs to what was advised then.
    let nothing = Turned::default();
    let typed = if refused.meanwhile { &nothing } else { typed };
    page_with(status, &laid_out(&visit.frame, &known, station, advice.as_ref(), typed, refused))
}
