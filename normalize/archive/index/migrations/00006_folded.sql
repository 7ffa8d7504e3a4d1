-- A laboratory's number is the same in capital and in small letters.

-- +goose Up
CREATE INDEX IF NOT EXISTS records_lab_sample_folded ON records (lower(lab_sample_id), reported);
-- The depth and the client are part of what a record says now. What the
-- archive knows of it is read again.
DELETE FROM state WHERE key = 'complete';

-- +goose Down
DROP INDEX records_lab_sample_folded;
