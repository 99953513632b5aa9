-- Who took the floor over, when, and how it stood then: what they had read, word for word.
CREATE TABLE handovers (
    id TEXT PRIMARY KEY NOT NULL,
    taken_by TEXT NOT NULL REFERENCES people (id),
    taken_at TIMESTAMP NOT NULL,
    note TEXT CHECK (length(note) BETWEEN 1 AND 1000),
    -- The machines as a document.
    floor TEXT NOT NULL
);
CREATE INDEX handovers_taken_at ON handovers (taken_at, id);
CREATE INDEX handovers_taken_by ON handovers (taken_by);
