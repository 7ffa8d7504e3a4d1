-- What the cross-examination asks of earlier reports: records of a laboratory
-- by the client's label and by all of their results at once. What the archive
-- knows of it is read again.

-- +goose Up
ALTER TABLE records ADD COLUMN fingerprint TEXT NOT NULL DEFAULT '';
CREATE INDEX IF NOT EXISTS records_fingerprint ON records (fingerprint, reported);
CREATE INDEX IF NOT EXISTS records_client_sample ON records (client_sample_id, reported);
DELETE FROM state WHERE key = 'complete';

-- +goose Down
DROP INDEX records_client_sample;
DROP INDEX records_fingerprint;
ALTER TABLE records DROP COLUMN fingerprint;
