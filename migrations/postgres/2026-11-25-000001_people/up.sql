-- People, their roles and sessions, and the shop's settings.

CREATE TABLE people (
    id TEXT PRIMARY KEY NOT NULL,
    -- Badges keep their case: they are not codes.
    badge TEXT NOT NULL UNIQUE CHECK (length(badge) BETWEEN 1 AND 64),
    name TEXT NOT NULL CHECK (length(name) BETWEEN 1 AND 200),
    secret_hash TEXT NOT NULL,
    disabled BOOLEAN NOT NULL,
    version BIGINT NOT NULL CHECK (version >= 1),
    created_at TIMESTAMP NOT NULL,
    updated_at TIMESTAMP NOT NULL
);

CREATE TABLE person_roles (
    person_id TEXT NOT NULL REFERENCES people (id),
    role TEXT NOT NULL CHECK (role IN
        ('clerk', 'setter', 'inspector', 'grinder', 'maintainer', 'supervisor', 'administrator', 'integration')),
    PRIMARY KEY (person_id, role)
);

CREATE TABLE sessions (
    id TEXT PRIMARY KEY NOT NULL,
    person_id TEXT NOT NULL REFERENCES people (id),
    -- SHA-256 of the refresh token in force, and of the one before it: a second use of the latter within ten seconds
    -- gets the same answer, later use ends the session.
    refresh_hash TEXT NOT NULL UNIQUE,
    previous_refresh_hash TEXT UNIQUE,
    rotated_at TIMESTAMP NOT NULL,
    created_at TIMESTAMP NOT NULL,
    expires_at TIMESTAMP NOT NULL,
    ended_at TIMESTAMP
);
CREATE INDEX sessions_person_id ON sessions (person_id);

-- SHA-256 of refresh tokens that were used twice over: whoever shows one again has stolen it or was stolen from, and the
-- session ends.
CREATE TABLE spent_refresh_tokens (
    refresh_hash TEXT PRIMARY KEY NOT NULL,
    session_id TEXT NOT NULL REFERENCES sessions (id)
);
CREATE INDEX spent_refresh_tokens_session_id ON spent_refresh_tokens (session_id);

CREATE TABLE shop_settings (
    id INTEGER PRIMARY KEY NOT NULL CHECK (id = 1),
    first_piece_by_another_person BOOLEAN NOT NULL,
    first_piece_from_every_spindle BOOLEAN NOT NULL,
    recheck_after_holder_move TEXT NOT NULL CHECK (recheck_after_holder_move IN ('advised', 'required')),
    height_limit_pm BIGINT NOT NULL CHECK (height_limit_pm > 0 AND height_limit_pm <= 254000000000000),
    height_limit_unit TEXT NOT NULL CHECK (height_limit_unit IN ('in', 'mm')),
    version BIGINT NOT NULL CHECK (version >= 1),
    updated_at TIMESTAMP NOT NULL
);

-- What a shop starts with; 0.002 in is common practice.
INSERT INTO shop_settings VALUES (1, TRUE, FALSE, 'advised', 50800000, 'in', 1, CURRENT_TIMESTAMP);

CREATE TABLE idempotency_keys (
    principal TEXT NOT NULL,
    method TEXT NOT NULL,
    path TEXT NOT NULL,
    idempotency_key TEXT NOT NULL CHECK (length(idempotency_key) BETWEEN 1 AND 64),
    fingerprint TEXT NOT NULL,
    -- Null only inside the transaction that does the work.
    status INTEGER,
    headers TEXT,
    body TEXT,
    created_at TIMESTAMP NOT NULL,
    PRIMARY KEY (principal, method, path, idempotency_key)
);
CREATE INDEX idempotency_keys_created_at ON idempotency_keys (created_at);
