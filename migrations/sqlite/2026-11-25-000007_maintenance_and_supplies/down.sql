DROP INDEX runs_usage;
DROP TABLE supply_movements;
DROP TABLE supplies;
DROP TABLE work_orders;
DROP TABLE maintenance_plans;

-- The table as it was. Codes of plans and supplies stay taken: they may stand on a label somewhere.
PRAGMA defer_foreign_keys = ON;
CREATE TABLE codes_before AS SELECT code, subject_kind, subject_id, alias FROM codes;
DROP TABLE codes;
CREATE TABLE codes (
    code TEXT PRIMARY KEY NOT NULL CHECK (length(code) BETWEEN 1 AND 32 AND code = upper(code)),
    -- `removed`: of something that was taken off the records; it names nothing any more, and stays taken.
    subject_kind TEXT NOT NULL CHECK
        (subject_kind IN ('place', 'machine', 'tool_design', 'item', 'part', 'job', 'removed')),
    subject_id TEXT NOT NULL,
    alias BOOLEAN NOT NULL
);
INSERT INTO codes (code, subject_kind, subject_id, alias)
SELECT code, CASE WHEN subject_kind IN ('maintenance_plan', 'supply') THEN 'removed' ELSE subject_kind END, subject_id,
    CASE WHEN subject_kind IN ('maintenance_plan', 'supply') THEN TRUE ELSE alias END
FROM codes_before;
DROP TABLE codes_before;
CREATE INDEX codes_subject ON codes (subject_id);
