DROP TABLE idempotency_keys;
DROP TABLE shop_settings;
DROP TABLE spent_refresh_tokens;
DROP TABLE sessions;
DROP TABLE person_roles;
DROP TABLE people;
