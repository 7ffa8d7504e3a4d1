-- Which bytes of its mapping each report was read with, so that a mapping that
-- has changed since can be told apart. What the archive knows of it is read
-- again.

-- +goose Up
ALTER TABLE reports ADD COLUMN mapping_sha256 TEXT NOT NULL DEFAULT '';
CREATE INDEX IF NOT EXISTS reports_mapping ON reports (mapping, mapping_sha256, status);
DELETE FROM state WHERE key = 'complete';

-- +goose Down
DROP INDEX reports_mapping;
ALTER TABLE reports DROP COLUMN mapping_sha256;
