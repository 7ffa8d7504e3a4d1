-- What a person looks for a report by: the words of its numbers, labels, file,
-- laboratory and counties, in small letters without accents, and what came on
-- which day. A term is looked up by how it begins, as a range of texts: they
-- must sort by their bytes. A client's name is not in here: a short hash stands
-- for each of its words, by which one who knows the name finds the report. What
-- the archive knows of it is read again.

-- +goose Up
CREATE TABLE IF NOT EXISTS terms (
    term      TEXT NOT NULL,
    report_id TEXT NOT NULL,
    PRIMARY KEY (term, report_id)
);
CREATE INDEX IF NOT EXISTS terms_report ON terms (report_id);
CREATE INDEX IF NOT EXISTS records_county ON records (county, report_id);
CREATE INDEX IF NOT EXISTS arrivals_arrived ON arrivals (arrived);
DELETE FROM state WHERE key = 'complete';

-- +goose Down
DROP INDEX arrivals_arrived;
DROP INDEX records_county;
DROP TABLE terms;
