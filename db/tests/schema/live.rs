//! What a live database says of its own tables, in one shape for both databases.

use diesel::{Connection as _, PgConnection, RunQueryDsl, SqliteConnection, sql_query, sql_types};
use std::collections::{BTreeMap, BTreeSet};

/// The table in which diesel keeps which migrations were applied.
const MIGRATIONS: &str = "__diesel_schema_migrations";

/// A column: its name, its type in the words of `diesel::table!`.
pub(crate) type Column = (String, String);

/// A table.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct Table {
    /// In the order of the table.
    pub(crate) columns: Vec<Column>,
    /// In the order of the key.
    pub(crate) primary_key: Vec<String>,
    /// Each with its columns and the table it points at.
    pub(crate) foreign_keys: BTreeSet<(Vec<String>, String)>,
    /// All indexes over every row, those of keys and unique constraints included.
    pub(crate) indexes: BTreeSet<Vec<String>>,
    /// Names of constraints and indexes, as this database uses them in its complaints.
    pub(crate) names: BTreeSet<String>,
}

/// All tables by name, without diesel's own.
pub(crate) type Schema = BTreeMap<String, Table>;

/// One row of any of the questions below.
#[derive(Debug, diesel::QueryableByName)]
struct Row {
    #[diesel(sql_type = sql_types::Text)]
    table: String,
    #[diesel(sql_type = sql_types::Text)]
    name: String,
    #[diesel(sql_type = sql_types::Text)]
    kind: String,
    #[diesel(sql_type = sql_types::Text)]
    detail: String,
}

fn words(text: &str) -> Vec<String> {
    text.split(',').map(str::to_owned).collect()
}

/// The tables of an SQLite database.
pub(crate) fn sqlite(connection: &mut SqliteConnection) -> Schema {
    let tables = "SELECT name AS \"table\", name, '' AS kind, '' AS detail FROM sqlite_schema
        WHERE type = 'table' AND name NOT LIKE 'sqlite_%'";
    let columns =
        "SELECT t.name AS \"table\", c.name, c.type AS kind, CASE WHEN c.\"notnull\" THEN '' ELSE 'null' END AS detail
        FROM sqlite_schema t JOIN pragma_table_info(t.name) c WHERE t.type = 'table' ORDER BY t.name, c.cid";
    let keys = "SELECT t.name AS \"table\", 'p' AS name, 'p' AS kind, group_concat(c.name, ',' ORDER BY c.pk) AS detail
        FROM sqlite_schema t JOIN pragma_table_info(t.name) c WHERE t.type = 'table' AND c.pk > 0 GROUP BY t.name";
    let foreign = "SELECT t.name AS \"table\", f.\"table\" AS name, 'f' AS kind, group_concat(f.\"from\", ',' ORDER BY f.seq) AS detail
        FROM sqlite_schema t JOIN pragma_foreign_key_list(t.name) f WHERE t.type = 'table' GROUP BY t.name, f.id";
    let indexes = "SELECT t.name AS \"table\", l.name, CASE WHEN l.partial THEN 'partial' ELSE 'index' END AS kind,
            group_concat(i.name, ',' ORDER BY i.seqno) AS detail
        FROM sqlite_schema t JOIN pragma_index_list(t.name) l JOIN pragma_index_info(l.name) i
        WHERE t.type = 'table' GROUP BY t.name, l.name";
    let mut rows = |question: &str| -> Vec<Row> { sql_query(question).load(connection).expect(question) };
    let mut schema: Schema = rows(tables).into_iter().map(|row| (row.table, Table::default())).collect();
    for row in rows(columns) {
        let kind = diesel_type(&row.kind, row.detail == "null");
        schema.get_mut(&row.table).expect("a table").columns.push((row.name, kind));
    }
    for row in rows(keys) {
        // An INTEGER PRIMARY KEY is the row's own number: it has no index of its own and needs none.
        let table = schema.get_mut(&row.table).expect("a table");
        table.primary_key = words(&row.detail);
        table.indexes.insert(words(&row.detail));
    }
    for row in rows(foreign) {
        schema.get_mut(&row.table).expect("a table").foreign_keys.insert((words(&row.detail), row.name));
    }
    for row in rows(indexes) {
        let table = schema.get_mut(&row.table).expect("a table");
        // SQLite complains of the columns and not of the index.
        let complaint: Vec<_> = words(&row.detail).iter().map(|column| format!("{}.{column}", row.table)).collect();
        table.names.insert(complaint.join(", "));
        if row.kind == "index" {
            table.indexes.insert(words(&row.detail));
        }
    }
    schema.remove(MIGRATIONS);
    schema
}

/// The tables of a PostgreSQL database.
pub(crate) fn postgres(connection: &mut PgConnection) -> Schema {
    let columns = "SELECT table_name::text AS \"table\", column_name::text AS name, udt_name::text AS kind,
            CASE is_nullable WHEN 'YES' THEN 'null' ELSE '' END AS detail
        FROM information_schema.columns WHERE table_schema = 'public' ORDER BY table_name, ordinal_position";
    let keys =
        "SELECT r.relname::text AS \"table\", coalesce(f.relname, c.conname)::text AS name, c.contype::text AS kind,
            string_agg(a.attname, ',' ORDER BY k.ord)::text AS detail
        FROM pg_constraint c JOIN pg_class r ON r.oid = c.conrelid LEFT JOIN pg_class f ON f.oid = c.confrelid
            CROSS JOIN LATERAL unnest(c.conkey) WITH ORDINALITY k (num, ord)
            JOIN pg_attribute a ON a.attrelid = c.conrelid AND a.attnum = k.num
        WHERE c.connamespace = 'public'::regnamespace AND c.contype IN ('p', 'f') GROUP BY c.oid, r.relname, f.relname";
    let indexes = "SELECT r.relname::text AS \"table\", n.relname::text AS name,
            CASE WHEN i.indpred IS NULL THEN 'index' ELSE 'partial' END AS kind,
            string_agg(a.attname, ',' ORDER BY k.ord)::text AS detail
        FROM pg_index i JOIN pg_class r ON r.oid = i.indrelid JOIN pg_class n ON n.oid = i.indexrelid
            CROSS JOIN LATERAL unnest(i.indkey::int2[]) WITH ORDINALITY k (num, ord)
            JOIN pg_attribute a ON a.attrelid = i.indrelid AND a.attnum = k.num
        WHERE r.relnamespace = 'public'::regnamespace GROUP BY r.relname, n.relname, i.indpred IS NULL";
    let mut rows = |question: &str| -> Vec<Row> { sql_query(question).load(connection).expect(question) };
    let mut schema = Schema::new();
    for row in rows(columns) {
        let kind = diesel_type(&row.kind, row.detail == "null");
        schema.entry(row.table).or_default().columns.push((row.name, kind));
    }
    for row in rows(keys) {
        let table = schema.get_mut(&row.table).expect("a table");
        if row.kind == "p" {
            table.primary_key = words(&row.detail);
        } else {
            table.foreign_keys.insert((words(&row.detail), row.name));
        }
    }
    for row in rows(indexes) {
        let table = schema.get_mut(&row.table).expect("a table");
        table.names.insert(row.name);
        if row.kind == "index" {
            table.indexes.insert(words(&row.detail));
        }
    }
    schema.remove(MIGRATIONS);
    schema
}

/// A database's type in the words of `diesel::table!`; what is not known stays as it is, and matches nothing.
fn diesel_type(name: &str, nullable: bool) -> String {
    let kind = match name.to_lowercase().as_str() {
        "text" => "Text",
        "bigint" | "int8" => "BigInt",
        "integer" | "int4" => "Integer",
        "boolean" | "bool" => "Bool",
        "timestamp" => "Timestamp",
        "date" => "Date",
        "double precision" | "double" | "float8" => "Double",
        _ => name,
    };
    if nullable { format!("Nullable<{kind}>") } else { kind.to_owned() }
}

/// An empty SQLite database in memory.
pub(crate) fn sqlite_in_memory() -> SqliteConnection {
    SqliteConnection::establish(":memory:").expect("a database in memory")
}
