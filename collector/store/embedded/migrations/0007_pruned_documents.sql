-- Documents past their retention. A run of them keeps its numbers and the hash
-- of its last one, so that the chain goes on behind it; the document numbered
-- checkpoint, itself in the chain, vouches for the run.
CREATE TABLE pruned (
    first      INTEGER PRIMARY KEY,
    last       INTEGER NOT NULL,
    hash       BLOB NOT NULL,
    checkpoint INTEGER NOT NULL REFERENCES document (seq)
);
