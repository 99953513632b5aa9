DROP TABLE movements;
DROP TABLE custody;
DROP TABLE releases_in_force;
DROP TABLE gauges_in_machines;
DROP TABLE items_in_setups;
DROP TABLE setup_events;
DROP TABLE setups;
