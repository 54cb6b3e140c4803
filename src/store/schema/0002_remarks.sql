-- Takes a store of step 1; adds what people say of a record that is no finding: whose it is, when the examination was, and why a
-- prompt was put aside. Of a record, a kind and a prompt the newest row holds; an empty one takes it back. Grows only, as all.

CREATE TABLE remarks (
    number INTEGER PRIMARY KEY AUTOINCREMENT,
    record TEXT NOT NULL REFERENCES records (id),
    about TEXT NOT NULL CHECK (about IN ('infant', 'examined', 'prompt')),
    prompt TEXT NOT NULL,
    words TEXT NOT NULL,
    name TEXT NOT NULL CHECK (name <> ''),
    role TEXT NOT NULL CHECK (role <> ''),
    at_ms INTEGER NOT NULL,
    seal TEXT NOT NULL
) STRICT;

CREATE INDEX remarks_of ON remarks (record, number);
CREATE INDEX remarks_said ON remarks (about, words);

CREATE TRIGGER remarks_not_altered BEFORE UPDATE ON remarks
BEGIN SELECT RAISE(ABORT, 'the store only grows: no row of remarks is altered'); END;

CREATE TRIGGER remarks_not_deleted BEFORE DELETE ON remarks
BEGIN SELECT RAISE(ABORT, 'the store only grows: no row of remarks is deleted'); END;
