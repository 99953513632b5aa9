-- The chain of changes: seal, audit, feed and history in one append-only table.

CREATE TABLE changes (
    sequence BIGINT PRIMARY KEY NOT NULL CHECK (sequence >= 1),
    id TEXT NOT NULL UNIQUE,
    kind TEXT NOT NULL,
    subject_kind TEXT NOT NULL,
    subject_id TEXT NOT NULL,
    subject_version BIGINT NOT NULL CHECK (subject_version >= 1),
    -- Null for what the program itself does (loading the demo shop, the command line).
    actor_id TEXT REFERENCES people (id),
    recorded_at TIMESTAMP NOT NULL,
    -- The subject's state after the change, as a document without secrets.
    state TEXT NOT NULL,
    -- SHA-256 over everything above but the sequence, in hexadecimal.
    digest TEXT NOT NULL,
    -- SHA-256 over the hash before, the sequence and the digest.
    chain_hash TEXT NOT NULL,
    UNIQUE (subject_kind, subject_id, subject_version)
);
CREATE INDEX changes_actor_id ON changes (actor_id);
CREATE INDEX changes_subject ON changes (subject_id, sequence);

CREATE TABLE chain_head (
    id INTEGER PRIMARY KEY NOT NULL CHECK (id = 1),
    sequence BIGINT NOT NULL CHECK (sequence >= 0),
    chain_hash TEXT NOT NULL
);
INSERT INTO chain_head (id, sequence, chain_hash)
VALUES (1, 0, '0000000000000000000000000000000000000000000000000000000000000000');
