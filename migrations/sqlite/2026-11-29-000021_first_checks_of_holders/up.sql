-- A holder with a plan has a day for its next check, also before its first one: those that were put on record without get it
-- by their plan from today.
UPDATE holders SET next_check = date('now', '+' || check_interval_days || ' days')
WHERE check_interval_days IS NOT NULL AND next_check IS NULL;
