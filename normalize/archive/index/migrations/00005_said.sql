-- What a record says, so that of the reports of one day those that say the
-- same need not be read. What the archive knows of it is read again.

-- +goose Up
ALTER TABLE records ADD COLUMN said TEXT NOT NULL DEFAULT '';
DELETE FROM state WHERE key = 'complete';

-- +goose Down
ALTER TABLE records DROP COLUMN said;
