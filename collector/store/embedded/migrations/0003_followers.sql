-- Followers that stopped longer than sealed scans are held read the archive:
-- dropped is up to which seq the scans of a day are gone.

ALTER TABLE sealed ADD COLUMN dropped INTEGER NOT NULL DEFAULT 0;
DROP TABLE cursor;
CREATE TABLE cursor (
    name     TEXT PRIMARY KEY,
    seq      INTEGER NOT NULL,
    archived INTEGER NOT NULL,
    day      INTEGER NOT NULL,
    series   INTEGER NOT NULL,
    through  INTEGER NOT NULL,
    at       INTEGER NOT NULL
) WITHOUT ROWID;
