DROP TABLE tool_edges;
DROP TABLE tool_checks;
DROP TABLE regrinds;
DROP TABLE tool_consents;
DROP TABLE tool_belongings;
ALTER TABLE tool_designs DROP COLUMN lead_time_days;
ALTER TABLE tool_designs DROP COLUMN usable_angle_deg;
ALTER TABLE tool_designs DROP COLUMN tool_radius_unit;
ALTER TABLE tool_designs DROP COLUMN tool_radius_pm;
