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

-- Where a transaction leaves its changes as its last statement; sealing passes number and chain them. Whoever saw
-- another's commit drew a later ticket (cache 1), so no cause is numbered after its effect.
CREATE TABLE changes_pending (
    ticket BIGINT GENERATED ALWAYS AS IDENTITY (CACHE 1) PRIMARY KEY,
    id TEXT NOT NULL UNIQUE,
    kind TEXT NOT NULL,
    subject_kind TEXT NOT NULL,
    subject_id TEXT NOT NULL,
    subject_version BIGINT NOT NULL CHECK (subject_version >= 1),
    actor_id TEXT REFERENCES people (id),
    recorded_at TIMESTAMP NOT NULL,
    state TEXT NOT NULL,
    digest TEXT NOT NULL,
    -- A doubled version would stop the numbering for good: it fails its own transaction instead.
    UNIQUE (subject_kind, subject_id, subject_version)
);
CREATE INDEX changes_pending_actor_id ON changes_pending (actor_id);
