//! Checks of centre gauges, with how each was decided.

use crate::{
    columns,
    connection::Connection,
    error::{Error, Result},
    schema::{gauge_check_proposals, gauge_checks, gauge_decisions},
};
use chrono::{DateTime, NaiveDate, NaiveDateTime, Utc};
use diesel::prelude::*;
use dovetally_core::{
    gauge::{
        check::{CheckDecision, DecisionRule, GaugeDecision, GaugeProof},
        standing::CheckFinding,
    },
    ids::{GaugeCheckId, ItemId, MachineId, PersonId},
    length::{Deviations, Length},
    registry::item::{CenterGaugeFields, GaugeCheckFields},
};

/// The two states of a gauge that a check decides, as they are named in rows.
const AS_FOUND: &str = "as_found";
const AS_LEFT: &str = "as_left";

/// A check on record.
#[derive(Clone, Debug, PartialEq)]
pub struct GaugeCheck {
    /// Its id.
    pub id: GaugeCheckId,
    /// The gauge.
    pub gauge: ItemId,
    /// The machine it was checked against.
    pub machine: MachineId,
    /// What was found.
    pub fields: GaugeCheckFields,
    /// Whether the gauge, as it was left, may be used.
    pub accepted: bool,
    /// How that was decided; none for a check from before decisions were kept.
    pub decision: Option<CheckDecision>,
    /// The day that the gauge's drift proposed for its next check.
    pub proposed_next_check: Option<NaiveDate>,
    /// Who recorded it.
    pub recorded_by: PersonId,
    /// The server's time.
    pub recorded_at: DateTime<Utc>,
}

impl GaugeCheck {
    /// What it says of the time before it. One from before decisions were kept says only whether the gauge was accepted.
    #[must_use]
    pub fn finding(&self) -> CheckFinding {
        let proof = self.decision.as_ref().map(|decision| decision.as_found.proof);
        CheckFinding {
            performed_at: self.fields.performed_at.min(self.recorded_at),
            found_right: proof.map_or(self.accepted, |proof| proof == GaugeProof::Accept),
            accepted: self.accepted,
        }
    }
}

#[derive(Queryable, Selectable, Insertable)]
#[diesel(table_name = gauge_checks)]
struct CheckRow {
    id: String,
    gauge_id: String,
    machine_id: String,
    as_found_pm: i64,
    as_found_unit: String,
    as_left_pm: Option<i64>,
    as_left_unit: Option<String>,
    standard_uncertainty_pm: i64,
    standard_uncertainty_unit: String,
    accepted: bool,
    certificate: Option<String>,
    next_check: NaiveDate,
    performed_at: NaiveDateTime,
    recorded_by: String,
    recorded_at: NaiveDateTime,
}

#[derive(Queryable, Selectable, Insertable)]
#[diesel(table_name = gauge_decisions)]
struct DecisionRow {
    check_id: String,
    state: String,
    conformance: Option<f64>,
    guard_factor: Option<f64>,
    nominal_pm: i64,
    nominal_unit: String,
    lower_pm: i64,
    lower_unit: String,
    upper_pm: i64,
    upper_unit: String,
    acceptance_lower_pm: Option<i64>,
    acceptance_upper_pm: Option<i64>,
    proof: String,
    conformance_probability: f64,
}

impl From<&GaugeCheck> for CheckRow {
    fn from(check: &GaugeCheck) -> Self {
        let fields = &check.fields;
        Self {
            id: check.id.to_string(),
            gauge_id: check.gauge.to_string(),
            machine_id: check.machine.to_string(),
            as_found_pm: fields.as_found.picometres(),
            as_found_unit: fields.as_found.unit().sign().to_owned(),
            as_left_pm: fields.as_left.map(|length| length.picometres()),
            as_left_unit: fields.as_left.map(|length| length.unit().sign().to_owned()),
            standard_uncertainty_pm: fields.standard_uncertainty.picometres(),
            standard_uncertainty_unit: fields.standard_uncertainty.unit().sign().to_owned(),
            accepted: check.accepted,
            certificate: fields.certificate.clone(),
            next_check: fields.next_check,
            performed_at: fields.performed_at.naive_utc(),
            recorded_by: check.recorded_by.to_string(),
            recorded_at: check.recorded_at.naive_utc(),
        }
    }
}

fn decision_row(check: GaugeCheckId, state: &str, rule: DecisionRule, decided: &GaugeDecision) -> DecisionRow {
    let (nominal, limits) = (decided.against.nominal, decided.against.limits);
    DecisionRow {
        check_id: check.to_string(),
        state: state.to_owned(),
        conformance: rule.conformance(),
        guard_factor: match rule {
            DecisionRule::Conformance(_) => None,
            DecisionRule::GuardFactor(factor) => Some(factor),
        },
        nominal_pm: nominal.picometres(),
        nominal_unit: nominal.unit().sign().to_owned(),
        lower_pm: limits.lower().picometres(),
        lower_unit: limits.lower().unit().sign().to_owned(),
        upper_pm: limits.upper().picometres(),
        upper_unit: limits.upper().unit().sign().to_owned(),
        acceptance_lower_pm: decided.acceptance.map(|(lower, _)| lower.picometres()),
        acceptance_upper_pm: decided.acceptance.map(|(_, upper)| upper.picometres()),
        proof: decided.proof.name().to_owned(),
        conformance_probability: decided.conformance_probability,
    }
}

impl DecisionRow {
    fn rule(&self) -> Result<DecisionRule> {
        crate::gauge_control::rule(self.conformance, self.guard_factor)
    }

    fn decided(&self) -> Result<GaugeDecision> {
        let nominal = columns::length(self.nominal_pm, &self.nominal_unit)?;
        let lower = columns::length(self.lower_pm, &self.lower_unit)?;
        let upper = columns::length(self.upper_pm, &self.upper_unit)?;
        let limits = Deviations::new(lower, upper).map_err(Error::unreadable)?;
        let acceptance = self.acceptance_lower_pm.zip(self.acceptance_upper_pm);
        let length = |picometres| Length::from_picometres(picometres, nominal.unit());
        Ok(GaugeDecision {
            against: CenterGaugeFields { nominal, limits },
            acceptance: acceptance.map(|(lower, upper)| (length(lower), length(upper))),
            proof: columns::named(&self.proof, GaugeProof::from_name)?,
            conformance_probability: self.conformance_probability,
        })
    }
}

/// Puts a check on record.
///
/// # Errors
/// A database error.
pub fn insert_check(connection: &mut Connection, check: &GaugeCheck) -> Result<()> {
    diesel::insert_into(gauge_checks::table).values(CheckRow::from(check)).execute(connection)?;
    if let Some(decision) = &check.decision {
        let states = [(AS_FOUND, Some(&decision.as_found)), (AS_LEFT, decision.as_left.as_ref())];
        for (state, decided) in states {
            if let Some(decided) = decided {
                let row = decision_row(check.id, state, decision.rule, decided);
                diesel::insert_into(gauge_decisions::table).values(row).execute(connection)?;
            }
        }
    }
    if let Some(day) = check.proposed_next_check {
        use gauge_check_proposals as p;
        diesel::insert_into(p::table)
            .values((p::check_id.eq(check.id.to_string()), p::proposed_next_check.eq(day)))
            .execute(connection)?;
    }
    Ok(())
}

/// Checks with their decisions.
fn whole(connection: &mut Connection, rows: Vec<CheckRow>) -> Result<Vec<GaugeCheck>> {
    let ids: Vec<&str> = rows.iter().map(|row| row.id.as_str()).collect();
    let decisions: Vec<DecisionRow> = gauge_decisions::table
        .filter(gauge_decisions::check_id.eq_any(&ids))
        .select(DecisionRow::as_select())
        .load(connection)?;
    let proposals: Vec<(String, NaiveDate)> = gauge_check_proposals::table
        .filter(gauge_check_proposals::check_id.eq_any(&ids))
        .select((gauge_check_proposals::check_id, gauge_check_proposals::proposed_next_check))
        .load(connection)?;
    rows.into_iter()
        .map(|row| {
            let of_state =
                |state: &str| decisions.iter().find(|decision| decision.check_id == row.id && decision.state == state);
            let decision = of_state(AS_FOUND)
                .map(|as_found| {
                    Ok::<_, Error>(CheckDecision {
                        rule: as_found.rule()?,
                        as_found: as_found.decided()?,
                        as_left: of_state(AS_LEFT).map(DecisionRow::decided).transpose()?,
                    })
                })
                .transpose()?;
            let proposed_next_check = proposals.iter().find(|(id, _)| *id == row.id).map(|(_, day)| *day);
            check(row, decision, proposed_next_check)
        })
        .collect()
}

fn check(row: CheckRow, decision: Option<CheckDecision>, proposed_next_check: Option<NaiveDate>) -> Result<GaugeCheck> {
    Ok(GaugeCheck {
        id: columns::read(&row.id)?,
        gauge: columns::read(&row.gauge_id)?,
        machine: columns::read(&row.machine_id)?,
        fields: GaugeCheckFields {
            as_found: columns::length(row.as_found_pm, &row.as_found_unit)?,
            as_left: columns::length_optional(row.as_left_pm, row.as_left_unit.as_deref())?,
            standard_uncertainty: columns::length(row.standard_uncertainty_pm, &row.standard_uncertainty_unit)?,
            certificate: row.certificate,
            next_check: row.next_check,
            performed_at: columns::time(row.performed_at),
        },
        accepted: row.accepted,
        decision,
        proposed_next_check,
        recorded_by: columns::read(&row.recorded_by)?,
        recorded_at: columns::time(row.recorded_at),
    })
}

/// A gauge's checks, newest first, before one.
///
/// # Errors
/// A database error.
pub fn checks_page(
    connection: &mut Connection,
    gauge: ItemId,
    before: Option<(DateTime<Utc>, GaugeCheckId)>,
    limit: i64,
) -> Result<Vec<GaugeCheck>> {
    use gauge_checks as c;
    let (at, id) = columns::before_or_newest(before);
    let rows: Vec<CheckRow> = c::table
        .filter(c::gauge_id.eq(gauge.to_string()))
        .filter(c::recorded_at.lt(at).or(c::recorded_at.eq(at).and(c::id.lt(id))))
        .order((c::recorded_at.desc(), c::id.desc()))
        .limit(limit)
        .select(CheckRow::as_select())
        .load(connection)?;
    whole(connection, rows)
}

/// When a gauge was accepted for the first time after an instant of the records, as that check says; checks that were done
/// before `since` are left out.
///
/// # Errors
/// A database error.
pub fn accepted_after(
    connection: &mut Connection,
    gauge: ItemId,
    recorded_after: DateTime<Utc>,
    since: Option<DateTime<Utc>>,
) -> Result<Option<DateTime<Utc>>> {
    use gauge_checks as c;
    let mut query = c::table
        .filter(c::gauge_id.eq(gauge.to_string()))
        .filter(c::recorded_at.gt(recorded_after.naive_utc()))
        .filter(c::accepted.eq(true))
        .order((c::recorded_at, c::id))
        .select(c::performed_at)
        .into_boxed();
    if let Some(since) = since {
        query = query.filter(c::performed_at.ge(since.naive_utc()));
    }
    let performed_at: Option<NaiveDateTime> = query.first(connection).optional()?;
    Ok(performed_at.map(columns::time))
}

/// The newest check that accepted a gauge, against whatever machine.
///
/// # Errors
/// A database error.
pub fn last_accepted_check(connection: &mut Connection, gauge: ItemId) -> Result<Option<GaugeCheck>> {
    use gauge_checks as c;
    let row: Option<CheckRow> = c::table
        .filter(c::gauge_id.eq(gauge.to_string()))
        .filter(c::accepted.eq(true))
        .order((c::recorded_at.desc(), c::id.desc()))
        .select(CheckRow::as_select())
        .first(connection)
        .optional()?;
    Ok(whole(connection, row.into_iter().collect())?.pop())
}

/// The newest checks of a gauge recorded at or after an instant, at most so many, oldest first.
///
/// # Errors
/// A database error.
pub fn checks_of_binding(
    connection: &mut Connection,
    gauge: ItemId,
    bound_since: DateTime<Utc>,
    limit: i64,
) -> Result<Vec<GaugeCheck>> {
    use gauge_checks as c;
    let rows: Vec<CheckRow> = c::table
        .filter(c::gauge_id.eq(gauge.to_string()))
        .filter(c::recorded_at.ge(bound_since.naive_utc()))
        .order((c::recorded_at.desc(), c::id.desc()))
        .limit(limit)
        .select(CheckRow::as_select())
        .load(connection)?;
    let mut checks = whole(connection, rows)?;
    checks.reverse();
    Ok(checks)
}

/// The checks that judge what was read on a gauge from an instant on, oldest first: all from the last one on that was
/// accepted by then. With `until`, only those recorded by that instant.
///
/// # Errors
/// A database error.
pub fn checks_that_judge(
    connection: &mut Connection,
    gauge: ItemId,
    read_from: DateTime<Utc>,
    until: Option<DateTime<Utc>>,
) -> Result<Vec<GaugeCheck>> {
    use gauge_checks as c;
    let accepted_by_then: Option<NaiveDateTime> = c::table
        .filter(c::gauge_id.eq(gauge.to_string()))
        .filter(c::recorded_at.le(read_from.naive_utc()))
        .filter(c::accepted.eq(true))
        .order(c::recorded_at.desc())
        .select(c::recorded_at)
        .first(connection)
        .optional()?;
    let mut query = c::table
        .filter(c::gauge_id.eq(gauge.to_string()))
        .order((c::recorded_at, c::id))
        .select(CheckRow::as_select())
        .into_boxed();
    if let Some(first) = accepted_by_then {
        query = query.filter(c::recorded_at.ge(first));
    }
    if let Some(until) = until {
        query = query.filter(c::recorded_at.le(until.naive_utc()));
    }
    let rows = query.load(connection)?;
    whole(connection, rows)
}
