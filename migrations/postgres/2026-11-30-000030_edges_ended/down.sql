ALTER TABLE form_tools DROP COLUMN edges_ended;
