-- Which items ever came to a keeper, asked of each item in the order of codes when a past instant is listed.
DROP INDEX movements_to_place;
CREATE INDEX movements_to_place ON movements (to_place_id, item_id);
CREATE INDEX movements_to_person_item ON movements (to_person_id, item_id);
CREATE INDEX movements_to_machine_item ON movements (to_machine_id, item_id);
