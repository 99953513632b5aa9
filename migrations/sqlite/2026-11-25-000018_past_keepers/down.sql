DROP INDEX movements_to_machine_item;
DROP INDEX movements_to_person_item;
DROP INDEX movements_to_place;
CREATE INDEX movements_to_place ON movements (to_place_id);
