-- What becomes of a run's pieces: free, held until an inspector judged them, or rejected. Only free ones are made for a job.
ALTER TABLE runs ADD COLUMN pieces_are TEXT NOT NULL DEFAULT 'free' CHECK (pieces_are IN ('free', 'held', 'rejected'));
-- As the events say: the judgement of a provisional run is the first after its release.
UPDATE runs SET pieces_are = COALESCE((
    SELECT CASE WHEN (judged.payload::jsonb ->> 'accepted')::boolean THEN 'free' ELSE 'rejected' END
    FROM setup_events AS judged
    WHERE judged.setup_id = runs.setup_id AND judged.sequence > runs.released_sequence
        AND judged.kind = 'held_pieces_judged'
    ORDER BY judged.sequence LIMIT 1), 'held')
WHERE EXISTS (
    SELECT 1 FROM setup_events AS released
    WHERE released.setup_id = runs.setup_id AND released.sequence = runs.released_sequence
        AND released.payload::jsonb ->> 'provisional' IS NOT NULL);

-- What work touched that was begun and then called off.
CREATE TABLE work_called_off (
    work_order_id TEXT PRIMARY KEY NOT NULL REFERENCES work_orders (id),
    touched TEXT NOT NULL CHECK (touched IN ('nothing', 'slide', 'spindle_carrier'))
);

-- Supplies that an order used before a count that was on record when the work was written up: the count saw that they were
-- gone, and nothing is withdrawn once more.
CREATE TABLE parts_counted (
    work_order_id TEXT NOT NULL REFERENCES work_orders (id),
    supply_id TEXT NOT NULL REFERENCES supplies (id),
    quantity BIGINT NOT NULL CHECK (quantity BETWEEN 1 AND 1000000000),
    used_at TIMESTAMP NOT NULL,
    -- The count that saw it.
    count_number BIGINT NOT NULL,
    PRIMARY KEY (work_order_id, supply_id),
    FOREIGN KEY (supply_id, count_number) REFERENCES supply_movements (supply_id, number)
);
CREATE INDEX parts_counted_supply ON parts_counted (supply_id, used_at);
CREATE INDEX parts_counted_count ON parts_counted (supply_id, count_number);
