-- Scans that could not be decoded when their day was sealed: nothing is thrown
-- away unread.
CREATE TABLE damaged_scan (
    seq    INTEGER PRIMARY KEY,
    t      INTEGER NOT NULL,
    config INTEGER NOT NULL,
    layout INTEGER NOT NULL,
    body   BLOB NOT NULL
);
