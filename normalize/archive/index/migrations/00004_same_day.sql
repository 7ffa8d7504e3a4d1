-- What one laboratory reported of one sample on one day, however often it
-- begins its numbers again.

-- +goose Up
DROP INDEX IF EXISTS records_lab_sample;
CREATE INDEX IF NOT EXISTS records_lab_sample ON records (lab_sample_id, reported);

-- +goose Down
DROP INDEX records_lab_sample;
CREATE INDEX IF NOT EXISTS records_lab_sample ON records (lab_sample_id);
