//! Sizes at the machine: one feature of one piece at a time. What was typed is told back before it is kept; the diameters of a
//! form are kept together, since they are judged together.

mod known;
mod typed;

pub(crate) use known::{AtMachine, Known, allowed, known};
pub(crate) use typed::address;

use super::{
    frame::{Frame, go_to, page, page_with},
    numbers::{ShownLength, near},
    setup::Walk,
    visit::{Faults, Sent, Visit},
    wording::{ToldRefusal, section},
};
use crate::{
    app::setups::{Loaded, MeasuredPiece, measured_in},
    extract::Segments,
    principal::{Read, RecordSetup},
    problem::{Problem, ProblemCode},
};
use actix_web::{HttpResponse, http::StatusCode, web::Query};
use askama::Template;
use dovetally_core::{
    code::Code,
    ids::SetupId,
    length::{Length, LengthUnit},
    people::Permission,
    reading::Doubt,
    setup::{
        event::{DepthReading, Event},
        measuring::Spot,
        state::Setup,
    },
};
use typed::{Measured, Spotted, Typed, carried, spindle_value};

section! {
    /// Sizes at the machine.
    SizesWords {
        title, heading, wanted, range, throw_away_one, throw_away_many, throw_away_one_any, throw_away_many_any, value,
        spindle, spindle_unknown, piece, piece_odd, spindle_odd, zero, read_it, from, from_any, inside, outside, keep,
        keep_other, taken, taken_one, skip, last, last_any, not_kept, hindered, looking, no_features, known, known_none,
        in_other_one, feature, size, state, elsewhere, at_station, to_adjust, to_charts, to_setup,
        next_step, hands
    }
}

/// What there is to do.
enum Doing {
    /// A size is read.
    Box,
    /// What was read is told back.
    ReadBack { value: Length, shown: ShownLength, doubt: Option<String>, other_unit: Option<Length>, inside: bool },
    /// No piece is measured here now.
    Hindered(Vec<ToldRefusal>),
    /// Whoever looks may not record.
    Looking,
}

/// Why what was typed is not kept.
#[derive(Default)]
struct Refused {
    faults: Faults,
    refusals: Vec<ToldRefusal>,
}

#[derive(Template)]
#[template(path = "pages/sizes.html")]
struct SizesPage<'p> {
    frame: &'p Frame,
    walk: &'p Walk,
    id: SetupId,
    setup: &'p Setup,
    spot: Option<&'p Spotted>,
    doing: Doing,
    refused: Refused,
    typed: &'p Typed,
    throw_away: Option<String>,
    last: Option<String>,
    known: Vec<Known>,
}

impl SizesPage<'_> {
    fn title(&self) -> String {
        let words = &self.frame.words.sizes;
        self.spot
            .map_or_else(|| words.no_features.to_string(), |spot| words.title.with("station", &spot.code).to_string())
    }

    /// What is wanted of a feature and what its limits allow: in the unit of the box, and in the other.
    fn wanted(&self, spot: &Spotted) -> ShownLength {
        let feature = &spot.feature;
        let (target, range) = (self.frame.length(&feature.target), allowed(self.frame, feature));
        let wanted = &self.frame.words.sizes.wanted;
        let entered = wanted.with("target", target.entered).with("range", range.entered).to_string();
        let other = wanted.with("target", target.other).with("range", range.other).to_string();
        if self.unit(spot) == feature.target.unit() {
            ShownLength { entered, other }
        } else {
            ShownLength { entered: other, other: entered }
        }
    }

    fn unit(&self, spot: &Spotted) -> LengthUnit {
        self.typed.box_unit(self.frame, spot)
    }

    fn unit_change(&self, spot: &Spotted) -> String {
        self.frame.unit_change(self.unit(spot).other())
    }

    /// The same box in the other unit.
    fn unit_address(&self, spot: &Spotted) -> String {
        self.box_address(spot, self.unit(spot).other(), "")
    }

    /// Whether something is typed or told back: that comes first on the page.
    fn comes_first(&self) -> bool {
        matches!(self.doing, Doing::Box | Doing::ReadBack { .. })
    }

    fn setup_page(&self) -> String {
        format!("/setups/{}", self.id)
    }

    fn charts_page(&self) -> String {
        super::setup_charts::address(self.id)
    }

    fn adjust_page(&self, station: &Code) -> String {
        super::adjust::address(self.id, station)
    }

    fn station_page(&self, station: &Code) -> String {
        address(self.id, &[("station", station.as_str())])
    }

    fn is_spindle(&self, spindle: &u8) -> bool {
        self.spot.is_some_and(|spot| spot.spindle == Some(*spindle))
    }

    fn value_of(spot: &Spotted) -> String {
        spindle_value(spot.spindle)
    }

    fn taken(spot: &Spotted) -> String {
        carried(&spot.taken)
    }

    /// Where what was typed may be changed.
    fn change(&self, spot: &Spotted) -> String {
        self.box_address(spot, self.unit(spot), &self.typed.value)
    }

    fn box_address(&self, spot: &Spotted, unit: LengthUnit, value: &str) -> String {
        let (spindle, taken) = (spindle_value(spot.spindle), carried(&spot.taken));
        let fields = [
            ("station", spot.code.as_str()),
            ("feature", spot.feature.code.as_str()),
            ("spindle", &spindle),
            ("piece", &spot.piece),
            ("taken", &taken),
            ("unit", unit.sign()),
            ("value", value),
        ];
        address(self.id, &fields)
    }
}

/// Shows what is to be measured next, or what the address asks for.
///
/// # Errors
/// 404 when there is no such setup.
pub async fn show(visit: Visit<Read>, id: Segments<SetupId>, asked: Query<Typed>) -> Result<HttpResponse, Problem> {
    let (id, typed) = (id.into_inner(), asked.into_inner());
    let at = AtMachine::of(&visit, id).await?;
    let spot = typed.spot(&at.walk.loaded.setup, &at.walk.loaded.events);
    page(&shown(&visit, &at, spot.as_ref(), &typed, None, Refused::default()))
}

/// The page: with a box unless something stands in the way, or with what was read told back.
fn shown<'p, A>(
    visit: &'p Visit<A>,
    at: &'p AtMachine,
    spot: Option<&'p Spotted>,
    typed: &'p Typed,
    told_back: Option<Measured>,
    refused: Refused,
) -> SizesPage<'p> {
    let (frame, setup, events) = (&visit.frame, &at.walk.loaded.setup, &at.walk.loaded.events);
    let words = &frame.words.sizes;
    let now = visit.guarded.database().now();
    let hindrances = spot.map(|spot| setup.hindrances_to_measuring(&at.facts, spot.station, &visit.who().actor(), now));
    let doing = match (told_back, spot, hindrances.unwrap_or_default()) {
        (Some(measured), Some(spot), _) => read_back(frame, spot, measured.value),
        _ if !frame.may(Permission::RecordSetup) => Doing::Looking,
        (None, Some(_), none) if none.is_empty() => Doing::Box,
        (_, _, hindrances) => Doing::Hindered(frame.refusals(&hindrances)),
    };
    let throw_away = spot.and_then(|spot| {
        let away = setup.throw_away(events, spot.station, spot.spindle);
        let phrase = match (away.pieces, spot.spindle) {
            (0, _) => return None,
            (1, Some(_)) => &words.throw_away_one,
            (_, Some(_)) => &words.throw_away_many,
            (1, None) => &words.throw_away_one_any,
            (_, None) => &words.throw_away_many_any,
        };
        let spindle = spot.spindle.map(|spindle| spindle.to_string()).unwrap_or_default();
        Some(phrase.with("count", away.pieces).with("spindle", spindle).with("piece", away.piece).to_string())
    });
    let known = spot.map(|spot| known(frame, setup, spot.station)).unwrap_or_default();
    let (walk, id, last) = (&at.walk, at.walk.loaded.row.id, last_kept(frame, at));
    SizesPage { frame, walk, id, setup, spot, doing, refused, typed, throw_away, last, known }
}

fn read_back(frame: &Frame, spot: &Spotted, value: Length) -> Doing {
    let (target, tolerance) = (spot.feature.target, spot.feature.tolerance);
    let found = near(target, tolerance.upper().minus(tolerance.lower())).doubt(value);
    Doing::ReadBack {
        shown: frame.length(&value),
        inside: tolerance.admit(target, value),
        other_unit: match found {
            Some(Doubt::OtherUnit(taken)) => Some(taken),
            Some(Doubt::Far) | None => None,
        },
        doubt: found.map(|found| frame.doubt(found, &value, &target)),
        value,
    }
}

/// What was kept last in this setup, in words.
fn last_kept(frame: &Frame, at: &AtMachine) -> Option<String> {
    let words = &frame.words.sizes;
    let setup = &at.walk.loaded.setup;
    let last = at.walk.loaded.events.last()?;
    let (features, piece, spindle) = match &last.event {
        Event::SizesRead { piece, spindle, readings, .. } => {
            let sizes = readings.iter().map(|reading| (reading.feature.clone(), reading.value));
            (sizes.collect::<Vec<_>>(), piece, spindle)
        }
        Event::DepthRead { station, piece, spindle, reading: DepthReading::Depth(depth), .. } => {
            let index = setup.plan.index_of(station)?;
            let plan = &setup.plan.stations[index].operation.features;
            let feature = plan.iter().find(|feature| setup.is_depth_asked_for(index, &feature.code))?;
            (vec![(feature.code.clone(), *depth)], piece, spindle)
        }
        _ => return None,
    };
    let (feature, value) = features.last()?;
    let phrase = if spindle.is_some() { &words.last } else { &words.last_any };
    let spindle = spindle.map(|spindle| spindle.to_string()).unwrap_or_default();
    let said = phrase.with("feature", feature).with("value", frame.length(value).entered);
    Some(said.with("spindle", spindle).with("piece", piece).to_string())
}

/// Tells a size back, or keeps it.
///
/// # Errors
/// 404 when there is no such setup; what is no refusal of a rule.
pub async fn read(
    visit: Visit<RecordSetup>,
    id: Segments<SetupId>,
    sent: Sent<Typed>,
) -> Result<HttpResponse, Problem> {
    let (id, typed) = (id.into_inner(), &sent.form);
    let at = AtMachine::of(&visit, id).await?;
    let (setup, events) = (&at.walk.loaded.setup, &at.walk.loaded.events);
    let Some(spot) = typed.spot(setup, events) else { return Ok(go_to(&address(id, &[]))) };
    let mut refused = Refused::default();
    let unprocessable = StatusCode::UNPROCESSABLE_ENTITY;
    let mut readings = spot.taken.clone();
    let piece = if typed.step == "skip" && !readings.is_empty() {
        typed.piece_number()
    } else {
        let measured = typed.read(&visit.frame, setup, &spot, &mut refused.faults);
        let Some(measured) = measured else {
            return page_with(unprocessable, &shown(&visit, &at, Some(&spot), typed, None, refused));
        };
        if typed.step != "keep" {
            return page(&shown(&visit, &at, Some(&spot), typed, Some(measured), refused));
        }
        readings.push((spot.feature.code.clone(), measured.value));
        if let Some(next) = spot.then.first() {
            let (spindle, taken) = (spindle_value(spot.spindle), carried(&readings));
            let fields = [
                ("station", spot.code.as_str()),
                ("feature", next.as_str()),
                ("spindle", &spindle),
                ("piece", &spot.piece),
                ("taken", &taken),
            ];
            return Ok(go_to(&address(id, &fields)));
        }
        Some(measured.piece)
    };
    let Some(piece) = piece else {
        refused.faults.add("piece", &visit.frame.words.sizes.piece_odd);
        return page_with(unprocessable, &shown(&visit, &at, Some(&spot), typed, None, refused));
    };
    let measured = MeasuredPiece { station: spot.code.clone(), piece, spindle: spot.spindle, readings };
    let kept = visit.perform(&sent, move |tx, who| {
        let loaded = measured_in(tx, who, id, &measured)?;
        Ok(after(&loaded, &measured))
    });
    match kept.await {
        Ok(address) => Ok(go_to(&address)),
        Err(problem) if matches!(problem.code(), ProblemCode::Refused | ProblemCode::InvalidField) => {
            refused.refusals = visit.frame.refusals(problem.refused_by());
            page_with(unprocessable, &shown(&visit, &at, Some(&spot), typed, None, refused))
        }
        Err(problem) => Err(problem),
    }
}

/// Where whoever measured a piece goes next: to what is to be turned where a size is outside its limits or all are known, else
/// to the next feature or spindle.
fn after(loaded: &Loaded, measured: &MeasuredPiece) -> String {
    let (id, setup) = (loaded.row.id, &loaded.setup);
    let station = setup.plan.index_of(&measured.station).unwrap_or_default();
    let plan = &setup.plan.stations[station];
    let outside = measured.readings.iter().any(|(code, value)| {
        plan.feature(code).is_some_and(|feature| !feature.tolerance.admit(feature.target, *value))
    });
    let last = measured.readings.last().map(|(feature, _)| feature.clone());
    let spot = last.map(|feature| Spot { station, feature, spindle: measured.spindle });
    let next = setup.next_to_measure(spot.as_ref()).filter(|_| !outside && !setup.is_measured_all_round());
    let Some(next) = next else { return super::adjust::address(id, &measured.station) };
    // The same piece is in hand at the next station.
    let piece = if next.spindle == measured.spindle { measured.piece.to_string() } else { String::new() };
    let fields = [
        ("station", setup.plan.stations[next.station].code.as_str()),
        ("feature", next.feature.as_str()),
        ("spindle", &spindle_value(next.spindle)),
        ("piece", &piece),
    ];
    address(id, &fields)
}
