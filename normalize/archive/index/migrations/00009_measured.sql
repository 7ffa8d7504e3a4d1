-- What a county is described by: the values of one test by one method, with the
-- class that the laboratory printed beside them, and of how many clients they
-- are. A client's name is not in here: a short hash stands for the part of it
-- that a family shares. What the archive knows of it is read again.

-- +goose Up
ALTER TABLE results ADD COLUMN rating TEXT NOT NULL DEFAULT '';
ALTER TABLE records ADD COLUMN client TEXT NOT NULL DEFAULT '';
CREATE INDEX IF NOT EXISTS results_test ON results (analyte, detail, method, unit);
DELETE FROM state WHERE key = 'complete';

-- +goose Down
DROP INDEX results_test;
ALTER TABLE records DROP COLUMN client;
ALTER TABLE results DROP COLUMN rating;
