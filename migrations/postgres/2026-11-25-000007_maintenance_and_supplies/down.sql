DROP INDEX runs_usage;
DROP TABLE supply_movements;
DROP TABLE supplies;
DROP TABLE work_orders;
DROP TABLE maintenance_plans;

-- Codes of plans and supplies stay taken: they may stand on a label somewhere.
UPDATE codes SET subject_kind = 'removed', alias = TRUE WHERE subject_kind IN ('maintenance_plan', 'supply');
ALTER TABLE codes DROP CONSTRAINT codes_subject_kind_check;
ALTER TABLE codes ADD CONSTRAINT codes_subject_kind_check CHECK
    (subject_kind IN ('place', 'machine', 'tool_design', 'item', 'part', 'job', 'removed'));
