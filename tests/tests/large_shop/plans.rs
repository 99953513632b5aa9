//! How the databases carry out what the server asked them, by the statements in its log.

use crate::Behind;
use diesel::{QueryableByName, RunQueryDsl, sql_query, sql_types::Text};
use std::collections::BTreeSet;

/// Tables that grow with the years. What a shop has at one time (items, custody, jobs) may be read whole by an answer about
/// all of it: that is some thousands of rows.
const LARGE: [&str; 19] = [
    "movements",
    "changes",
    "setups",
    "setup_events",
    "runs",
    "run_items",
    "gauge_uses",
    "gauge_checks",
    "tool_edges",
    "bookings",
    "regrinds",
    "tool_checks",
    "holder_checks",
    "center_heights",
    "work_orders",
    "supply_movements",
    "impact_entries",
    "tag_outs",
    "idempotency_keys",
];

/// Indexes over what is in force only: read whole, they are some dozens of rows however old the shop is.
const IN_FORCE: [&str; 3] = ["bookings_in_force", "tag_outs_in_force", "work_orders_open"];

/// Every statement that the log tells, without its values.
fn statements(log: &str) -> BTreeSet<String> {
    let told = log.lines().filter(|line| line.contains("dovetally_db::statements"));
    // What writes has a SELECT at most inside it.
    let from = told.filter_map(|line| {
        let begins =
            ["WITH ", "SELECT ", "INSERT ", "UPDATE ", "DELETE "].into_iter().filter_map(|word| line.find(word)).min();
        begins.map(|at| &line[at..]).filter(|text| text.starts_with("SELECT ") || text.starts_with("WITH "))
    });
    from.map(|text| text.split(" -- binds:").next().unwrap_or(text).trim().to_owned()).collect()
}

/// The statements whose plans walk through a large table row by row, each with its plan.
pub(crate) fn walks_through_large_tables(behind: &mut Behind, log: &str) -> Vec<String> {
    let statements = statements(log);
    assert!(statements.len() > 50, "the log tells of {} statements", statements.len());
    println!("{} different statements", statements.len());
    let mut walks = Vec::new();
    for statement in &statements {
        let plan = plan(behind, statement);
        if LARGE.iter().any(|table| walks_through(statement, &plan, table)) {
            walks.push(format!("{statement}\n{plan}"));
        }
    }
    walks
}

/// What a statement calls a table: its name, and what it is called `AS`.
fn names<'a>(statement: &'a str, table: &'a str) -> Vec<&'a str> {
    let called = [format!(" {table} AS "), format!("\"{table}\" AS "), format!("`{table}` AS ")];
    let mut names = vec![table];
    for called in called {
        names.extend(statement.split(&called).skip(1).map(|rest| {
            let rest = rest.trim_start_matches(['"', '`']);
            &rest[..rest.find(|c: char| !c.is_ascii_alphanumeric() && c != '_').unwrap_or(rest.len())]
        }));
    }
    names
}

/// Whether a plan reads a table from its first row to its last, or an index over it. A statement that has a limit stops
/// when its page is full, if it goes along an index.
fn walks_through(statement: &str, plan: &str, table: &str) -> bool {
    let limited = statement.contains(" LIMIT ");
    let lines: Vec<&str> = plan.lines().map(|line| line.trim().trim_start_matches("->").trim()).collect();
    names(statement, table).into_iter().any(|name| {
        lines.iter().enumerate().any(|(number, line)| {
            if IN_FORCE.iter().any(|index| line.contains(&format!(" {index} ")) || line.ends_with(index)) {
                return false;
            }
            let sqlite = *line == format!("SCAN {name}") || !limited && line.starts_with(&format!("SCAN {name} USING"));
            let reads = line.starts_with("Seq Scan on") || line.starts_with("Parallel Seq Scan on");
            let along = (line.contains("Index Scan using") || line.contains("Index Only Scan using"))
                && !lines.get(number + 1).is_some_and(|next| next.starts_with("Index Cond"));
            let on = line.contains(&format!(" on {table} ")) && (name == table || line.contains(&format!(" {name} ")));
            sqlite || on && (reads || along && !limited)
        })
    })
}

#[derive(QueryableByName)]
struct Step {
    #[diesel(sql_type = Text)]
    detail: String,
}

fn plan(behind: &mut Behind, statement: &str) -> String {
    match behind {
        Behind::Sqlite(connection) => {
            let steps: Vec<Step> = sql_query(format!("EXPLAIN QUERY PLAN {statement}"))
                .load(&mut **connection)
                .unwrap_or_else(|error| panic!("{statement}: {error}"));
            steps.into_iter().map(|step| format!("{}\n", step.detail)).collect()
        }
        Behind::Postgres(client) => {
            let count = (1..).take_while(|number| statement.contains(&format!("${number}"))).count();
            client.batch_execute("SET plan_cache_mode = force_generic_plan; DEALLOCATE ALL").expect("settings");
            client
                .batch_execute(&format!("PREPARE asked AS {statement}"))
                .unwrap_or_else(|e| panic!("{statement}: {e}"));
            let nothing = vec!["NULL"; count].join(", ");
            let values = if count == 0 { String::new() } else { format!("({nothing})") };
            let rows = client
                .query(&format!("EXPLAIN EXECUTE asked{values}"), &[])
                .unwrap_or_else(|error| panic!("{statement}: {error}"));
            rows.iter().map(|row| format!("{}\n", row.get::<_, String>(0))).collect()
        }
    }
}
