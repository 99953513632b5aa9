//! What years of care leave: grinds, checks, orders, the shelf's ledger, documents of what gauges have touched.

use crate::fill::{Dialect, FORM_TOOLS, GAUGES, HOLDERS, ITEM, JOB, MACHINE, MACHINES, PERSON, RUN, SETUP};

const REGRIND: u32 = 20;
const TOOL_CHECK: u32 = 21;
const HOLDER_CHECK: u32 = 22;
const CENTER_HEIGHT: u32 = 23;
const ORDER: u32 = 24;
const SUPPLY: u32 = 25;
const SUPPLY_MOVEMENT: u32 = 26;
const IMPACT: u32 = 27;
const TAG_OUT: u32 = 28;

const GRINDS: u32 = FORM_TOOLS * 8;
const SUPPLIES: u32 = 400;
/// Of each supply.
const SUPPLY_MOVEMENTS: u32 = 250;
const ORDERS: u32 = 20_000;
const OPEN_ORDERS: u32 = 60;
const IMPACTS: u32 = 300;
const OPEN_IMPACTS: u32 = 20;

/// The statements, in order, after the shop's things, setups and runs.
pub(crate) fn statements(d: Dialect) -> Vec<String> {
    let mut all = tools(d);
    all.extend(holders_and_machines(d));
    all.extend(orders(d));
    all.extend(shelf(d));
    all.extend(impacts(d));
    all
}

fn tools(d: Dialect) -> Vec<String> {
    let rows = Dialect::rows;
    let (tool, number) =
        (d.id(ITEM, &format!("(1 + (i - 1) % {FORM_TOOLS})")), format!("(1 + (i - 1) / {FORM_TOOLS})"));
    let (at, who) = (d.time("i * 600"), d.id(PERSON, "(1 + i % 4)"));
    vec![
        format!(
            "{}INSERT INTO regrinds (id, tool_id, number, kind, height_on_record_pm, height_on_record_unit, height_before_pm,
                 height_before_unit, height_after_pm, height_after_unit, stock_pm, stock_unit, regrind_count, pieces_on_edge,
                 edge_ended, wheel, dressed, burn_seen, profile_checked, retired, remarks, occurred_at, recorded_by,
                 recorded_at)
             SELECT {}, {tool}, {number}, 'full', 30000000000, 'in', 30000000000, 'in', 29600000000, 'in', 400000000, 'in',
                 {number}, 3000 + (i * 37) % 4001, 'worn', 'W-46', TRUE, FALSE, TRUE, FALSE, '[]', {at}, {who}, {at} FROM n",
            rows(GRINDS), d.id(REGRIND, "i"),
        ),
        format!(
            "{}INSERT INTO tool_checks (id, tool_id, after_grind, accepted, condition, profile_checked, edge_sound, height_pm,
                 height_unit, rake_deg, found, remarks, performed_at, recorded_by, recorded_at, edge_doubted)
             SELECT {}, {tool}, {number}, TRUE, 'usable', TRUE, TRUE, 29600000000, 'in', 6, '[]', '[]', {at}, {who}, {at},
                 FALSE FROM n",
            rows(GRINDS), d.id(TOOL_CHECK, "i"),
        ),
    ]
}

fn holders_and_machines(d: Dialect) -> Vec<String> {
    let rows = Dialect::rows;
    let (machine, who) = (d.id(MACHINE, &format!("(1 + i % {MACHINES})")), d.id(PERSON, "(1 + i % 4)"));
    let (at, later) = (d.time("i * 9000"), d.time("i * 9000 + 7200"));
    vec![
        format!(
            "{}INSERT INTO holder_checks (id, holder_id, accepted, found, taper_adjuster_free, height_adjuster_free,
                 side_screw_free, seat_clean, condition, next_check, performed_at, recorded_by, recorded_at)
             SELECT {}, {}, TRUE, '[]', TRUE, TRUE, TRUE, TRUE, 'usable', {}, {at}, {who}, {at} FROM n",
            rows(HOLDERS * 5), d.id(HOLDER_CHECK, "i"), d.id(ITEM, &format!("({FORM_TOOLS} + 1 + i % {HOLDERS})")),
            d.day("i % 400"), at = d.time("i * 3000"),
        ),
        format!(
            "{}INSERT INTO center_heights (id, machine_id, measured_pm, measured_unit, standard_uncertainty_pm,
                 standard_uncertainty_unit, reason, after_work, performed_at, recorded_by, recorded_at)
             SELECT {}, {machine}, 95250000000, 'in', 1270000, 'in', 'Yearly', FALSE, {at}, {who}, {at} FROM n",
            rows(MACHINES * 100), d.id(CENTER_HEIGHT, "i"),
        ),
        format!(
            "{}INSERT INTO tag_outs (id, machine_id, reason, placed_by, placed_at, cleared_by, cleared_at, cleared_note, version)
             SELECT {}, {machine}, 'Belt', {who}, {at}, {who}, {later}, 'Changed', 2 FROM n",
            rows(5_000), d.id(TAG_OUT, "i"),
        ),
    ]
}

/// Orders that are done, every fourth a breakdown, and a few that are open.
fn orders(d: Dialect) -> Vec<String> {
    let done = format!("i > {OPEN_ORDERS}");
    let when = |value: &str| format!("CASE WHEN {done} THEN {value} END");
    let who = d.id(PERSON, "(1 + i % 4)");
    let (opened, ended) = (d.time("i * 2400"), d.time("i * 2400 + 9000"));
    vec![format!(
        "{}INSERT INTO work_orders (id, machine_id, what, breakdown, down_from, down_until, state, opened_by, opened_at,
             started_by, started_at, ended_by, ended_at, done_at, note, touched, version)
         SELECT {}, {}, 'Belt', i % 4 = 0, CASE WHEN i % 4 = 0 THEN {opened} END,
             CASE WHEN i % 4 = 0 AND {done} THEN {ended} END, CASE WHEN {done} THEN 'done' ELSE 'open' END, {who}, {opened},
             {}, {}, {}, {}, {}, {}, {}, 3 FROM n",
        Dialect::rows(ORDERS), d.id(ORDER, "i"), d.id(MACHINE, &format!("(1 + i % {MACHINES})")),
        when(&who), when(&opened), when(&who), when(&ended), when(&ended), when("'Changed'"), when("'nothing'"),
    )]
}

/// Each supply is received by tens and withdrawn in tens, one by one; a few are below their minimum.
fn shelf(d: Dialect) -> Vec<String> {
    let rows = Dialect::rows;
    let begin = d.time("0");
    let (supply, number) =
        (d.id(SUPPLY, &format!("(1 + (i - 1) % {SUPPLIES})")), format!("(1 + (i - 1) / {SUPPLIES})"));
    let change = format!("(CASE WHEN {number} % 2 = 1 THEN 10 ELSE -10 END)");
    let before = format!("(CASE WHEN {number} % 2 = 1 THEN 0 ELSE 10 END)");
    let at = d.time("i * 500");
    vec![
        format!(
            "{}INSERT INTO codes (code, subject_kind, subject_id, alias)
             SELECT 'SU-' || CAST(100000 + i AS TEXT), 'supply', {}, FALSE FROM n",
            rows(SUPPLIES), d.id(SUPPLY, "i"),
        ),
        format!(
            "{}INSERT INTO supplies (id, code, name, unit, minimum, reorder_quantity, lead_time_days, retired, on_hand, movements,
                 version, created_at, updated_at)
             SELECT {}, 'SU-' || CAST(100000 + i AS TEXT), 'Supply', 'piece', i % 20, 10, 7, FALSE, 0, {SUPPLY_MOVEMENTS}, 1,
                 {begin}, {begin} FROM n",
            rows(SUPPLIES), d.id(SUPPLY, "i"),
        ),
        format!(
            "{}INSERT INTO supply_movements (supply_id, number, id, kind, previous_number, on_hand_before, change, on_hand,
                 recorded_by, occurred_at, recorded_at)
             SELECT {supply}, {number}, {}, CASE WHEN {number} % 2 = 1 THEN 'received' ELSE 'withdrawn' END,
                 CASE WHEN {number} > 1 THEN {number} - 1 END, {before}, {change}, {before} + {change}, {}, {at}, {at} FROM n",
            rows(SUPPLIES * SUPPLY_MOVEMENTS), d.id(SUPPLY_MOVEMENT, "i"), d.id(PERSON, "1"),
        ),
    ]
}

/// A hundred runs each, with their setups, jobs and tools; the last documents are open.
fn impacts(d: Dialect) -> Vec<String> {
    let rows = Dialect::rows;
    let open = format!("i > {}", IMPACTS - OPEN_IMPACTS);
    let closed = |value: &str| format!("CASE WHEN {open} THEN NULL ELSE {value} END");
    let who = d.id(PERSON, "1");
    let (since, raised) = (d.time("i * 150000"), d.time("i * 150000 + 100000"));
    let mut all = vec![format!(
        "{}INSERT INTO impacts (id, gauge_id, machine_id, reason, doubtful_since, doubtful_until, raised_by, raised_at,
             up_to_date_at, closed_by, closed_at, closing_note, version)
         SELECT {}, {}, {}, 'Found high', {since}, {raised}, {who}, {raised}, {raised}, {}, {}, {}, 2 FROM n",
        rows(IMPACTS),
        d.id(IMPACT, "i"),
        d.id(ITEM, &format!("({} + 1 + i % {GAUGES})", FORM_TOOLS + HOLDERS)),
        d.id(MACHINE, &format!("(1 + (1 + i % {GAUGES}) % {MACHINES})")),
        closed(&who),
        closed(&raised),
        closed("'Done'"),
    )];
    // Its hundred of a kind begin where the next document's do not.
    let (of, nth) = ("(1 + (i - 1) / 100)", "((i - 1) % 100)");
    let judged_at = d.time(&format!("{of} * 150000 + 100000"));
    let judged = format!("CASE WHEN {of} > {} THEN NULL ELSE", IMPACTS - OPEN_IMPACTS);
    for (at, (kind, column, thing)) in (0_u32..).zip([
        ("setup", "setup_id", d.id(SETUP, &format!("(1 + ({of} * 150 + {nth}) % 50000)"))),
        ("run", "run_id", d.id(RUN, &format!("(1 + ({of} * 150 + {nth}) % 50000)"))),
        ("job", "job_id", d.id(JOB, &format!("(1 + ({of} * 150 + {nth}) % 4000)"))),
        ("tool", "item_id", d.id(ITEM, &format!("(1 + ({of} * 150 + {nth}) % {FORM_TOOLS})"))),
    ]) {
        all.push(format!(
            "{}INSERT INTO impact_entries (impact_id, number, kind, {column}, pieces, evidence, outcome, note, judged_by, judged_at)
             SELECT {}, 1 + {at} * 100 + {nth}, '{kind}', {thing}, 500, '[]', {judged} 'cleared' END, {judged} 'Looked at' END,
                 {judged} {who} END, {judged} {judged_at} END FROM n",
            rows(IMPACTS * 100), d.id(IMPACT, of),
        ));
    }
    all.push("UPDATE tool_designs SET lead_time_days = 30".to_owned());
    all
}
