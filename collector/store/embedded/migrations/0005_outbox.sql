-- What still has to be told to the outside, such as the call of a web hook.
CREATE TABLE outbox (
    id    INTEGER PRIMARY KEY AUTOINCREMENT,
    kind  TEXT NOT NULL,
    body  BLOB NOT NULL,
    due   INTEGER NOT NULL,
    tries INTEGER NOT NULL DEFAULT 0,
    error TEXT NOT NULL DEFAULT ''
);
CREATE INDEX outbox_due ON outbox (due);
