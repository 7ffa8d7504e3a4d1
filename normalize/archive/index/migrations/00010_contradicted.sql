-- How a laboratory does: of how many samples of a report a check across its own
-- numbers found something at odds, and of a report that does not look as it
-- used to, what its mapping relied on and what stood there. Nothing that may be
-- a client's name: only headings, labels, units and methods are kept so. What
-- the archive knows of it is read again, and has to be when a check is added.

-- +goose Up
ALTER TABLE reports ADD COLUMN contradicted INTEGER NOT NULL DEFAULT 0;
ALTER TABLE reasons ADD COLUMN expected TEXT NOT NULL DEFAULT '';
ALTER TABLE reasons ADD COLUMN found TEXT NOT NULL DEFAULT '';
CREATE INDEX IF NOT EXISTS reports_contradicted ON reports (lab, contradicted);
DELETE FROM state WHERE key = 'complete';

-- +goose Down
DROP INDEX reports_contradicted;
ALTER TABLE reasons DROP COLUMN found;
ALTER TABLE reasons DROP COLUMN expected;
ALTER TABLE reports DROP COLUMN contradicted;
