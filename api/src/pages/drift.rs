//! The drift of a centre gauge: its checks with limits and uncertainty, what they say, and the last decision with its rule.

use super::{
    drawn::Chart,
    frame::{Frame, page},
    visit::Visit,
    who::Names,
    wording::{Phrase, ToldRefusal, section},
};
use crate::{
    app::{
        facts::stale_gauge,
        gauge_checks::rows,
        gauge_drift::drift_of,
        registry::{CenterGauges, find},
    },
    drawing::drift,
    extract::{Reference, Segments},
    principal::Read,
    problem::Problem,
    transport::{
        gauge_check::{CheckDecisionView, GaugeCheckView, GaugeDecisionView},
        gauge_drift::GaugeDriftView,
    },
};
use actix_web::HttpResponse;
use askama::Template;
use dovetally_core::{gauge::check::GaugeProof, people::Permission, registry::item::CenterGauge};

section! {
    /// The drift of a centre gauge.
    DriftPageWords {
        title, record, open_item, nominal, limits_from, limits_to, next_check, no_check, proposed, last_check,
        never, decided_found, decided_left, probability, probability_high, probability_low, rule_conformance,
        rule_factor, older_rule, impact, all_impacts, checks, when, as_found, as_left, uncertainty, decision,
        certificate, by, accept, reject, undecided, found_so, left_so, drawn
    }
}

impl DriftPageWords {
    /// What a check proves.
    pub(super) const fn proof(&self, proof: GaugeProof) -> &Phrase {
        match proof {
            GaugeProof::Accept => &self.accept,
            GaugeProof::Reject => &self.reject,
            GaugeProof::Undecided => &self.undecided,
        }
    }
}

/// The checks that are drawn with their uncertainty, and listed.
const CHECKS: i64 = 100;

struct Known {
    gauge: CenterGauge,
    drift: GaugeDriftView,
    checks: Vec<GaugeCheckView>,
}

#[derive(Template)]
#[template(path = "pages/drift.html")]
struct DriftPage<'p> {
    frame: &'p Frame,
    known: &'p Known,
    /// Why it sets nothing until it is checked again, though it is judged usable.
    stale: Vec<ToldRefusal>,
    /// That its check is overdue, where it is.
    overdue: Option<String>,
    /// Nothing before its first check at this machine.
    chart: Option<Chart>,
}

impl DriftPage<'_> {
    fn may_check(&self) -> bool {
        self.frame.may(Permission::ControlGauges)
    }

    fn state(&self) -> (&'static str, &Phrase) {
        self.frame.words.names.state(self.known.gauge.item.fields.condition, !self.stale.is_empty())
    }

    fn proof(&self, decided: &GaugeDecisionView) -> &Phrase {
        self.frame.words.drift_page.proof(decided.verdict)
    }

    fn mark(&self, decided: &GaugeDecisionView) -> &'static str {
        match decided.verdict {
            GaugeProof::Accept => "good",
            GaugeProof::Reject => "stop",
            GaugeProof::Undecided => "wait",
        }
    }

    fn probability(&self, decided: &GaugeDecisionView) -> String {
        let words = &self.frame.words.drift_page;
        match decided.conformance_probability * 100.0 {
            // Nothing that was measured is certain: no 100 %, and no 0 %.
            percent if percent > 99.9 => words.probability_high.to_string(),
            percent if percent < 0.1 => words.probability_low.to_string(),
            percent => words.probability.with("percent", self.frame.mark().rounded(percent, 1)).to_string(),
        }
    }

    fn rule(&self, decision: &CheckDecisionView) -> String {
        let words = &self.frame.words.drift_page;
        let factor = self.frame.mark().rounded(decision.guard_factor, 3);
        match decision.conformance {
            Some(share) => {
                let percent = self.frame.mark().rounded(share * 100.0, 2);
                words.rule_conformance.with("percent", percent).with("factor", factor).to_string()
            }
            None => words.rule_factor.with("factor", factor).to_string(),
        }
    }
}

/// Shows it.
///
/// # Errors
/// 404 for what is no centre gauge.
pub async fn show(visit: Visit<Read>, gauge: Segments<Reference>) -> Result<HttpResponse, Problem> {
    let reference = gauge.into_inner();
    let today = visit.guarded.database().now().date_naive();
    let known = visit
        .read(move |connection| {
            let gauge = find::<CenterGauges>(connection, &reference)?;
            let drift = drift_of(connection, &gauge)?;
            let checks = rows(connection, gauge.item.id, None, CHECKS)?;
            let mut checks: Vec<GaugeCheckView> = checks.into_iter().map(|(_, view)| view).collect();
            let mut names = Names::default();
            checks.iter_mut().try_for_each(|check| names.put(connection, &mut check.recorded_by))?;
            Ok(Known { gauge, drift, checks })
        })
        .await?;
    let frame = &visit.frame;
    let drawn = || Chart::of(frame, "drift", |words, setting| drift::draw(&known.drift, &known.checks, words, setting));
    let chart = (!known.drift.points.is_empty()).then(drawn);
    let overdue = frame.overdue(known.gauge.next_check, today);
    let stale: Vec<_> = stale_gauge(&known.gauge).into_iter().collect();
    page(&DriftPage { frame, known: &known, stale: frame.refusals(&stale), overdue, chart })
}
