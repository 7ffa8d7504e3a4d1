-- A search that many reports fit walks them from the latest on and looks at
-- each whether it has the words: for that the words of one report must be found
-- as fast as the reports of one word, and the reports in their order. Nothing
-- is read again.

-- +goose Up
DROP INDEX IF EXISTS terms_report;
CREATE INDEX IF NOT EXISTS terms_of_report ON terms (report_id, term);
DROP INDEX IF EXISTS reports_reported;
CREATE INDEX IF NOT EXISTS reports_latest ON reports (reported DESC, id);

-- +goose Down
DROP INDEX reports_latest;
CREATE INDEX IF NOT EXISTS reports_reported ON reports (reported);
DROP INDEX terms_of_report;
CREATE INDEX IF NOT EXISTS terms_report ON terms (report_id);
