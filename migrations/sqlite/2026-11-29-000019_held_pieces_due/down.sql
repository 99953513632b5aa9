DROP INDEX runs_pieces_are;
