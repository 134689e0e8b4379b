-- The program numbers scans itself: one page less in every commit.

CREATE TABLE scan_new (
    seq    INTEGER PRIMARY KEY,
    t      INTEGER NOT NULL,
    config INTEGER NOT NULL,
    layout INTEGER NOT NULL,
    body   BLOB NOT NULL
);
INSERT INTO scan_new SELECT seq, t, config, layout, body FROM scan;
DROP TABLE scan;
ALTER TABLE scan_new RENAME TO scan;
CREATE INDEX scan_time ON scan (layout, t);
