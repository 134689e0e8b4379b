-- Sealed days: the manifest, what summaries keep for ever, cursors of readers.

DROP TABLE block;

-- One archive file. series lists its row groups, little-endian uint32.
-- Live blocks are read; kept ones are an earlier generation of levels that
-- were computed again; damaged ones were set aside.
CREATE TABLE block (
    id         INTEGER PRIMARY KEY,
    day        INTEGER NOT NULL,
    class      INTEGER NOT NULL,
    generation INTEGER NOT NULL,
    file       TEXT NOT NULL UNIQUE,
    bytes      INTEGER NOT NULL,
    sha256     TEXT NOT NULL,
    samples    INTEGER NOT NULL,
    series     BLOB NOT NULL,
    state      TEXT NOT NULL CHECK (state IN ('live', 'kept', 'damaged')),
    note       TEXT NOT NULL DEFAULT '',
    sealed_at  INTEGER NOT NULL
);
CREATE INDEX block_day ON block (day, class);

-- Scans of a day with seq up to through are in its blocks and not read again.
CREATE TABLE sealed (
    day     INTEGER PRIMARY KEY,
    through INTEGER NOT NULL
);

-- What a series did on a sealed day: in all, by the hour and by ten minutes.
-- Ordinary rowid table: blobs stay on their own pages.
CREATE TABLE summary (
    series INTEGER NOT NULL,
    day    INTEGER NOT NULL,
    min    REAL,
    max    REAL,
    sum    REAL NOT NULL,
    count  INTEGER NOT NULL,
    bad    INTEGER NOT NULL,
    hours  BLOB,
    tens   BLOB,
    UNIQUE (series, day)
);
CREATE INDEX summary_day ON summary (day);

-- What 64 neighbouring series did in a minute that is not sealed yet. All
-- minutes before meta 'minutes_through' have theirs, except the stale ones.
CREATE TABLE minute (
    t    INTEGER NOT NULL,
    grp  INTEGER NOT NULL,
    body BLOB NOT NULL,
    UNIQUE (grp, t)
);
CREATE INDEX minute_time ON minute (t);
CREATE TABLE stale_minute (t INTEGER PRIMARY KEY);

-- How far a reader of all changes has come.
CREATE TABLE cursor (
    name TEXT PRIMARY KEY,
    seq  INTEGER NOT NULL,
    at   INTEGER NOT NULL
) WITHOUT ROWID;
