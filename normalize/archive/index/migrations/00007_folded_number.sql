-- A laboratory's number is the same in capital and in small letters, in any
-- script: the database's lower() knows those of English alone. What the archive
-- knows is read again, as the new column is written by the program.

-- +goose Up
ALTER TABLE records ADD COLUMN lab_sample_folded TEXT NOT NULL DEFAULT '';
DROP INDEX IF EXISTS records_lab_sample_folded;
CREATE INDEX IF NOT EXISTS records_lab_number_folded ON records (lab_sample_folded, reported);
DELETE FROM state WHERE key = 'complete';

-- +goose Down
DROP INDEX IF EXISTS records_lab_number_folded;
ALTER TABLE records DROP COLUMN lab_sample_folded;
CREATE INDEX IF NOT EXISTS records_lab_sample_folded ON records (lower(lab_sample_id), reported);
