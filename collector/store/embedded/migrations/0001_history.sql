-- Series, hot scans and documents.

CREATE TABLE meta (
    key   TEXT PRIMARY KEY,
    value TEXT NOT NULL
) WITHOUT ROWID;

CREATE TABLE series (
    id    INTEGER PRIMARY KEY,
    gauge TEXT NOT NULL,
    name  TEXT NOT NULL,
    class INTEGER NOT NULL,
    unit  TEXT NOT NULL,
    UNIQUE (gauge, name, class, unit)
);

-- A layout is the ordered list of series that one scan row carries, as
-- little-endian uint32. Scans repeat it, so it is written once.
CREATE TABLE layout (
    id     INTEGER PRIMARY KEY,
    series BLOB NOT NULL UNIQUE
);

-- One row per scan and layout, in the order of arrival. A later row with the
-- same series and time replaces the earlier value when read. t is the
-- scheduled instant in microseconds since 1970 UTC. Layout 0 carries its list
-- in the body. Ordinary rowid table: blobs stay on their own pages.
CREATE TABLE scan (
    seq    INTEGER PRIMARY KEY AUTOINCREMENT,
    t      INTEGER NOT NULL,
    config INTEGER NOT NULL,
    layout INTEGER NOT NULL,
    body   BLOB NOT NULL
);
CREATE INDEX scan_time ON scan (layout, t);

-- The manifest of sealed days. generation counts the resealings of a day and
-- the recomputations of levels; only live blocks are read. first_seq and
-- last_seq are the hot rows that went into the block, so that a forwarder
-- which is behind knows where it stands.
CREATE TABLE block (
    id         INTEGER PRIMARY KEY,
    day        INTEGER NOT NULL,
    class      INTEGER NOT NULL,
    generation INTEGER NOT NULL,
    file       TEXT NOT NULL UNIQUE,
    bytes      INTEGER NOT NULL,
    sha256     TEXT NOT NULL,
    samples    INTEGER NOT NULL,
    first_seq  INTEGER NOT NULL,
    last_seq   INTEGER NOT NULL,
    state      TEXT NOT NULL CHECK (state IN ('live', 'kept', 'damaged')),
    note       TEXT NOT NULL DEFAULT '',
    sealed_at  INTEGER NOT NULL
);
CREATE UNIQUE INDEX block_live ON block (day, class) WHERE state = 'live';

-- Documents are never changed: a new version is a new row. hash chains every
-- row to the one before it, so that a changed or removed row shows.
CREATE TABLE document (
    seq      INTEGER PRIMARY KEY AUTOINCREMENT,
    kind     TEXT NOT NULL,
    id       TEXT NOT NULL,
    gauge    TEXT NOT NULL,
    t        INTEGER NOT NULL,
    replaces INTEGER REFERENCES document (seq),
    newest   INTEGER NOT NULL DEFAULT 1,
    body     BLOB NOT NULL,
    hash     BLOB NOT NULL
);
CREATE UNIQUE INDEX document_newest ON document (kind, id) WHERE newest = 1;
CREATE INDEX document_version ON document (kind, id, seq);
CREATE INDEX document_gauge ON document (gauge, seq);
CREATE INDEX document_time ON document (t);
