-- What an archive holds, for asking. Everything here can be made again from
-- the archive. Only SQL that SQLite and PostgreSQL read alike: text and
-- integers, dates as YYYY-MM-DD and times as YYYY-MM-DDTHH:MM:SSZ (so that
-- they sort as text), '' for what is not known, decimals as printed digits.

-- +goose Up
CREATE TABLE IF NOT EXISTS sources (
    sha256     TEXT   NOT NULL PRIMARY KEY,
    name       TEXT   NOT NULL, -- under which it first came
    size       BIGINT NOT NULL, -- bytes
    first_seen TEXT   NOT NULL  -- time of its first arrival
);

CREATE TABLE IF NOT EXISTS reports (
    id         TEXT    NOT NULL PRIMARY KEY,
    version    INTEGER NOT NULL, -- of the document in the archive
    lab        TEXT    NOT NULL,
    lab_name   TEXT    NOT NULL,
    report_no  TEXT    NOT NULL,
    status     TEXT    NOT NULL,
    sha256     TEXT    NOT NULL, -- of its source
    name       TEXT    NOT NULL, -- of its source
    member     TEXT    NOT NULL,
    mapping    TEXT    NOT NULL,
    layout     TEXT    NOT NULL,
    software   TEXT    NOT NULL,
    office     TEXT    NOT NULL,
    reported   TEXT    NOT NULL, -- the latest date among its samples: reported, or else received, or else sampled
    records    INTEGER NOT NULL,
    results    INTEGER NOT NULL
);
CREATE INDEX IF NOT EXISTS reports_sha256 ON reports (sha256);
CREATE INDEX IF NOT EXISTS reports_status ON reports (status, reported);
CREATE INDEX IF NOT EXISTS reports_lab ON reports (lab, reported);
CREATE INDEX IF NOT EXISTS reports_reported ON reports (reported);

CREATE TABLE IF NOT EXISTS records (
    id               TEXT    NOT NULL PRIMARY KEY,
    report_id        TEXT    NOT NULL,
    ordinal          INTEGER NOT NULL, -- in the report, from 1
    lab_sample_id    TEXT    NOT NULL,
    client_sample_id TEXT    NOT NULL,
    county           TEXT    NOT NULL,
    sampled          TEXT    NOT NULL,
    received         TEXT    NOT NULL,
    reported         TEXT    NOT NULL,
    land_use         TEXT    NOT NULL,
    status           TEXT    NOT NULL
);
CREATE INDEX IF NOT EXISTS records_report ON records (report_id, ordinal);
CREATE INDEX IF NOT EXISTS records_lab_sample ON records (lab_sample_id);

CREATE TABLE IF NOT EXISTS results (
    record_id TEXT    NOT NULL,
    ordinal   INTEGER NOT NULL, -- in the record, from 1
    analyte   TEXT    NOT NULL,
    detail    TEXT    NOT NULL,
    method    TEXT    NOT NULL,
    value     TEXT    NOT NULL,
    unit      TEXT    NOT NULL,
    censored  TEXT    NOT NULL,
    status    TEXT    NOT NULL,
    PRIMARY KEY (record_id, ordinal)
);

-- Reasons about the report as a whole, and findings of checks about its
-- records (record_id set) and their results (analyte set as well).
CREATE TABLE IF NOT EXISTS reasons (
    report_id TEXT    NOT NULL,
    ordinal   INTEGER NOT NULL, -- in the report, from 1
    record_id TEXT    NOT NULL,
    analyte   TEXT    NOT NULL,
    code      TEXT    NOT NULL,
    severity  TEXT    NOT NULL,
    what      TEXT    NOT NULL,
    PRIMARY KEY (report_id, ordinal)
);
CREATE INDEX IF NOT EXISTS reasons_code ON reasons (code);

CREATE TABLE IF NOT EXISTS arrivals (
    place     TEXT   NOT NULL PRIMARY KEY, -- in the archive
    arrived   TEXT   NOT NULL,
    name      TEXT   NOT NULL,
    member    TEXT   NOT NULL,
    channel   TEXT   NOT NULL,
    office    TEXT   NOT NULL,
    sha256    TEXT   NOT NULL,
    size      BIGINT NOT NULL,
    outcome   TEXT   NOT NULL,
    report_id TEXT   NOT NULL
);
CREATE INDEX IF NOT EXISTS arrivals_sha256 ON arrivals (sha256, arrived);

-- Whether everything of the archive is in here: key 'complete', value 'yes'.
-- A later migration that adds what must be read from the archive again
-- deletes that row.
CREATE TABLE IF NOT EXISTS state (
    key   TEXT NOT NULL PRIMARY KEY,
    value TEXT NOT NULL
);

-- +goose Down
DROP TABLE state;
DROP TABLE arrivals;
DROP TABLE reasons;
DROP TABLE results;
DROP TABLE records;
DROP TABLE reports;
DROP TABLE sources;
