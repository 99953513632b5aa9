DROP INDEX gauge_uses_placed_at;
DROP TABLE centers_moved;
