-- Which edge pieces belong to, what a check found that must not be forgotten, who ground, and what waits for a check.

-- How far a tool's rake may lie from its design's after a grind, either way.
ALTER TABLE tool_designs ADD COLUMN rake_tolerance_deg DOUBLE PRECISION NOT NULL DEFAULT 0.5
    CHECK (rake_tolerance_deg > 0 AND rake_tolerance_deg <= 5);

-- A tool's edges and grinds, counted: the number rises with each grind and with its retirement.
CREATE TABLE edge_turns (
    tool_id TEXT PRIMARY KEY NOT NULL REFERENCES form_tools (item_id),
    turn INTEGER NOT NULL CHECK (turn >= 0),
    UNIQUE (tool_id, turn)
);
INSERT INTO edge_turns (tool_id, turn) SELECT item_id, 0 FROM form_tools;

-- Runs whose pieces are not booked, for each form tool in them, with the turn that it ran in: while one is here the turn
-- cannot rise, so that pieces booked late are counted for the edge that cut them.
CREATE TABLE pieces_to_book (
    run_id TEXT NOT NULL REFERENCES runs (id),
    tool_id TEXT NOT NULL,
    turn INTEGER NOT NULL,
    PRIMARY KEY (run_id, tool_id),
    FOREIGN KEY (tool_id, turn) REFERENCES edge_turns (tool_id, turn)
);
CREATE INDEX pieces_to_book_tool ON pieces_to_book (tool_id, turn);
INSERT INTO pieces_to_book (run_id, tool_id, turn)
    SELECT run_items.run_id, run_items.item_id, 0 FROM runs
    JOIN run_items ON run_items.run_id = runs.id
    JOIN form_tools ON form_tools.item_id = run_items.item_id
    WHERE runs.pieces IS NULL;

-- Burn or a crack that was found, and what was done where it was cleared without a grind.
ALTER TABLE tool_checks ADD COLUMN edge_doubted BOOLEAN NOT NULL DEFAULT FALSE;
ALTER TABLE tool_checks ADD COLUMN edge_cleared TEXT CHECK (length(edge_cleared) BETWEEN 1 AND 1000);
UPDATE tool_checks SET edge_doubted = TRUE WHERE found LIKE '%"burn"%' OR found LIKE '%"crack"%';

-- Who ground: a person of the shop, or somebody outside it in words.
CREATE TABLE regrind_grinders (
    regrind_id TEXT PRIMARY KEY NOT NULL REFERENCES regrinds (id),
    person_id TEXT REFERENCES people (id),
    outside TEXT CHECK (length(outside) BETWEEN 1 AND 100),
    CHECK ((person_id IS NULL) <> (outside IS NULL))
);
CREATE INDEX regrind_grinders_person ON regrind_grinders (person_id);
INSERT INTO regrind_grinders (regrind_id, person_id) SELECT id, recorded_by FROM regrinds;

-- What waits for a check, for the grinder or for a repair, by code.
CREATE INDEX items_kind_condition ON items (kind, condition, code);
