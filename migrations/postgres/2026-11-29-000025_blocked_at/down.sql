ALTER TABLE items DROP COLUMN blocked_at;
