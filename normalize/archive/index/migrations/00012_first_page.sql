-- What the first page asks after each report that came: the counts of each
-- laboratory from an index alone, the samples that a register may be about by
-- their day, and from when to when reports were at a laboratory.

-- +goose Up
CREATE INDEX IF NOT EXISTS reports_counted ON reports (lab, office, status, records, contradicted, reported, lab_name, id);
CREATE INDEX IF NOT EXISTS records_reported ON records (reported, report_id, ordinal);
CREATE INDEX IF NOT EXISTS records_days ON records (report_id, received, reported);

-- +goose Down
DROP INDEX records_days;
DROP INDEX records_reported;
DROP INDEX reports_counted;
