//! What a design's tools have left beside what is booked: when they run out, and how many to order by when.
//!
//! Every job that is still planned asks its pieces of every station that a tool of the design works at. Jobs are served in the
//! order of their planned starts; what is counted on is the lower bound of the pieces left where there is one. Tools that
//! are kept for a part serve that part first and no other; consents to lend are not counted on.

use super::left::{EdgesLeft, PiecesLeft, TellsWhatIsLeft};
use crate::{code::Code, ids::PartId, life::edge::as_number};
use chrono::{Days, NaiveDate};
use std::collections::BTreeMap;

/// A tool that may still serve.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ToolLeft {
    /// What it has left.
    pub edges: EdgesLeft,
    /// The part that it is kept for.
    pub kept_for: Option<PartId>,
}

/// What one job asks of the design's tools.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Demand {
    /// Its number.
    pub job: Code,
    /// Its part.
    pub part: PartId,
    /// The day on which it is to start.
    pub planned_start: NaiveDate,
    /// Pieces still to make, times the stations at which the design works.
    pub pieces: i64,
}

/// What is known of a design's tools and of what is booked on them.
#[derive(Clone, Debug)]
pub struct SupplyFacts<'a> {
    /// What is known of its edges.
    pub experience: &'a dyn TellsWhatIsLeft,
    /// Its tools that may still serve.
    pub tools: &'a [ToolLeft],
    /// What is booked, in the order of planned starts.
    pub demand: &'a [Demand],
    /// The edges that a new tool will have.
    pub new_tool: EdgesLeft,
    /// Days from ordering a tool to having it.
    pub lead_time_days: Option<u32>,
    /// The day on which it is asked.
    pub today: NaiveDate,
}

/// Where the tools run out.
#[derive(Clone, Debug, PartialEq)]
pub struct RunsOut {
    /// In this job.
    pub job: Code,
    /// Which starts on this day; today for one that should have started.
    pub on: NaiveDate,
    /// Pieces that are missing over all that is booked.
    pub short: f64,
}

/// New tools to order.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Order {
    /// So many.
    pub tools: u64,
    /// On this day at the latest; none where the design has no lead time on record.
    pub by: Option<NaiveDate>,
    /// Whether that day is today or past.
    pub due: bool,
}

/// The supply of a design's tools.
#[derive(Clone, Debug, PartialEq)]
pub struct Supply {
    /// Tools that may still serve.
    pub tools: usize,
    /// Of these, tools that are kept for one part.
    pub kept_for_a_part: usize,
    /// Grinds left in all of them.
    pub grinds_left: u64,
    /// Pieces left in all of them.
    pub pieces_left: PiecesLeft,
    /// Pieces booked.
    pub booked: i64,
    /// Where they run out; none when they last for all that is booked.
    pub runs_out: Option<RunsOut>,
    /// What to order.
    pub order: Option<Order>,
}

/// Sets a design's tools against what is booked.
#[must_use]
pub fn supply(facts: &SupplyFacts<'_>) -> Supply {
    let mut pools: BTreeMap<Option<PartId>, EdgesLeft> = BTreeMap::new();
    let mut all = EdgesLeft::default();
    for tool in facts.tools {
        pools.entry(tool.kept_for).or_default().add(&tool.edges);
        all.add(&tool.edges);
    }
    let mut left: BTreeMap<Option<PartId>, f64> =
        pools.iter().map(|(part, edges)| (*part, facts.experience.pieces_left(edges).cautious())).collect();
    let mut first: Option<(Code, NaiveDate)> = None;
    let mut short = 0.0;
    for demand in facts.demand {
        let mut wanted = as_number(demand.pieces);
        for pool in [Some(demand.part), None] {
            if let Some(there) = left.get_mut(&pool) {
                let taken = wanted.min(*there);
                *there -= taken;
                wanted -= taken;
            }
        }
        if wanted > 0.0 {
            short += wanted;
            first.get_or_insert_with(|| (demand.job.clone(), demand.planned_start.max(facts.today)));
        }
    }
    let runs_out = first.map(|(job, on)| RunsOut { job, on, short });
    let order = runs_out.as_ref().map(|runs_out| order(facts, runs_out));
    Supply {
        tools: facts.tools.len(),
        kept_for_a_part: facts.tools.iter().filter(|tool| tool.kept_for.is_some()).count(),
        grinds_left: all.fresh,
        pieces_left: facts.experience.pieces_left(&all),
        booked: facts.demand.iter().map(|demand| demand.pieces).sum(),
        runs_out,
        order,
    }
}

/// Enough new tools for what is missing, counted on as cautiously as those that are there.
fn order(facts: &SupplyFacts<'_>, runs_out: &RunsOut) -> Order {
    const MOST: u64 = 100_000;
    // Tools are bought together: what scatters from edge to edge evens out over all of them.
    let enough = |tools: u64| {
        let edges = EdgesLeft { in_use: Vec::new(), fresh: facts.new_tool.fresh.saturating_mul(tools) };
        facts.experience.pieces_left(&edges).cautious() >= runs_out.short
    };
    let (mut low, mut high) = (0, 1);
    while !enough(high) && high < MOST {
        low = high;
        high *= 2;
    }
    while high - low > 1 {
        let middle = u64::midpoint(low, high);
        if enough(middle) {
            high = middle;
        } else {
            low = middle;
        }
    }
    let by = facts.lead_time_days.and_then(|days| runs_out.on.checked_sub_days(Days::new(days.into())));
    Order { tools: high, by, due: by.is_some_and(|by| by <= facts.today) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::life::{edge::EdgeLives, left::Experience};
    use uuid::Uuid;

    const A: PartId = PartId::from_uuid(Uuid::from_u128(1));
    const B: PartId = PartId::from_uuid(Uuid::from_u128(2));

    fn day(day: u32) -> NaiveDate {
        NaiveDate::from_ymd_opt(2026, 6, day).unwrap()
    }

    fn tool(fresh: u64, kept_for: Option<PartId>) -> ToolLeft {
        ToolLeft { edges: EdgesLeft { in_use: vec![400], fresh }, kept_for }
    }

    fn job(number: &str, part: PartId, on: u32, pieces: i64) -> Demand {
        Demand { job: Code::parse(number).unwrap(), part, planned_start: day(on), pieces }
    }

    fn asked(tools: &[ToolLeft], demand: &[Demand], lead_time_days: Option<u32>) -> Supply {
        let experience = Experience::of(&EdgeLives::default(), 1000);
        let new_tool = EdgesLeft { in_use: vec![], fresh: 10 };
        supply(&SupplyFacts { experience: &experience, tools, demand, new_tool, lead_time_days, today: day(5) })
    }

    #[test]
    fn what_lasts_for_all_that_is_booked_is_not_ordered() {
        // 600 left on the edge and four grinds of 1000.
        let found = asked(&[tool(4, None)], &[job("J-1", A, 10, 4000), job("J-2", B, 12, 600)], Some(7));
        assert_eq!((found.tools, found.grinds_left, found.booked), (1, 4, 4600));
        assert_eq!((found.pieces_left.expected, found.pieces_left.interval), (4600.0, None));
        assert_eq!((found.runs_out, found.order), (None, None));
    }

    #[test]
    fn the_job_in_which_it_runs_out_sets_the_day_to_order_by() {
        let demand = [job("J-1", A, 10, 4000), job("J-2", B, 20, 601), job("J-3", B, 25, 20_000)];
        let found = asked(&[tool(4, None)], &demand, Some(7));
        let runs_out = found.runs_out.unwrap();
        assert_eq!((runs_out.job.as_str(), runs_out.on, runs_out.short), ("J-2", day(20), 20_001.0));
        // A new tool gives 10,000: three for 20,001.
        assert_eq!(found.order, Some(Order { tools: 3, by: Some(day(13)), due: false }));
        assert_eq!(asked(&[tool(4, None)], &demand, Some(15)).order.map(|order| order.due), Some(true));
        assert_eq!(asked(&[tool(4, None)], &demand, None).order.map(|order| order.by), Some(None));
        // What should have started counts from today.
        let late = asked(&[], &[job("J-1", A, 1, 10)], None);
        assert_eq!(late.runs_out.map(|runs_out| runs_out.on), Some(day(5)));
    }

    #[test]
    fn a_tool_that_is_kept_for_a_part_serves_it_first_and_no_other() {
        let tools = [tool(4, Some(A)), tool(0, None)];
        let fits = [job("J-1", A, 10, 4700), job("J-2", B, 12, 500)];
        let found = asked(&tools, &fits, None);
        assert_eq!((found.runs_out, found.kept_for_a_part, found.pieces_left.expected), (None, 1, 5200.0));
        let other = asked(&tools, &[job("J-2", B, 12, 601)], None);
        assert_eq!(other.runs_out.map(|runs_out| runs_out.short), Some(1.0));
    }

    #[test]
    fn what_was_learned_is_counted_on_by_its_lower_bound() {
        let mut lives = EdgeLives::default();
        [700, 900, 1000, 1100, 1300, 1500].into_iter().for_each(|pieces| lives.add(pieces, true));
        let experience = Experience::of(&lives, 1000);
        let tools = [tool(4, None)];
        let (lower, upper) = experience.pieces_left(&tools[0].edges).interval.unwrap();
        let expected = experience.pieces_left(&tools[0].edges).expected;
        assert!(lower < expected && expected < upper);
        #[expect(clippy::cast_possible_truncation, reason = "some thousands")]
        let pieces_between = f64::midpoint(lower, expected) as i64;
        let demand = [job("J-1", A, 10, pieces_between)];
        let new_tool = EdgesLeft { in_use: vec![], fresh: 10 };
        let facts = SupplyFacts {
            experience: &experience,
            tools: &tools,
            demand: &demand,
            new_tool,
            lead_time_days: None,
            today: day(5),
        };
        assert_eq!(supply(&facts).order.map(|order| order.tools), Some(1));
    }
}
