-- Pieces that wait for an inspector are asked for every day, and are a handful among all runs.
CREATE INDEX runs_pieces_are ON runs (pieces_are, released_at);
