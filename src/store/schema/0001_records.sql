-- Takes an empty database; makes the store's tables. Every table only grows: rows are numbered without a gap, sealed with
-- the SHA-256 of their content and of the seal before, and triggers refuse to alter or delete one. Leaves alone the
-- recordings' files. A released step is never edited; the next one is 0002.

-- What the owner decided about the store, the newest row holding.
CREATE TABLE store (
    number INTEGER PRIMARY KEY AUTOINCREMENT,
    keep_sound TEXT NOT NULL CHECK (keep_sound IN ('for-ever', 'until-signed', 'not-kept')),
    at_ms INTEGER NOT NULL,
    seal TEXT NOT NULL
) STRICT;

-- Recordings by what they hold. Their sound lies beside this file, under recordings/, while it is kept.
CREATE TABLE recordings (
    number INTEGER PRIMARY KEY AUTOINCREMENT,
    sha256 TEXT NOT NULL UNIQUE CHECK (length(sha256) = 64 AND NOT sha256 GLOB '*[^0-9a-f]*'),
    bytes INTEGER NOT NULL CHECK (bytes >= 0),
    length_ms INTEGER,
    file_name TEXT NOT NULL,
    ending TEXT NOT NULL,
    at_ms INTEGER NOT NULL,
    seal TEXT NOT NULL
) STRICT;

-- What became of a recording's sound, the newest row of each holding.
CREATE TABLE recording_events (
    number INTEGER PRIMARY KEY AUTOINCREMENT,
    recording TEXT NOT NULL REFERENCES recordings (sha256),
    what TEXT NOT NULL CHECK (what IN ('kept', 'not-kept', 'to-delete', 'deleted')),
    at_ms INTEGER NOT NULL,
    seal TEXT NOT NULL
) STRICT;

-- Records. What is in them stands in drafts, entries and signatures.
CREATE TABLE records (
    number INTEGER PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL UNIQUE,
    file_name TEXT NOT NULL,
    recording TEXT REFERENCES recordings (sha256),
    at_ms INTEGER NOT NULL,
    seal TEXT NOT NULL
) STRICT;

-- Drafts of records, as export/draft_json.rs writes them.
CREATE TABLE drafts (
    number INTEGER PRIMARY KEY AUTOINCREMENT,
    record TEXT NOT NULL REFERENCES records (id),
    version INTEGER NOT NULL CHECK (version >= 1),
    at_ms INTEGER NOT NULL,
    sha256 TEXT NOT NULL,
    json TEXT NOT NULL,
    seal TEXT NOT NULL,
    UNIQUE (record, version)
) STRICT;

-- Decisions of reviewers, in one sequence a record.
CREATE TABLE entries (
    number INTEGER PRIMARY KEY AUTOINCREMENT,
    record TEXT NOT NULL REFERENCES records (id),
    entry INTEGER NOT NULL CHECK (entry >= 1),
    seen INTEGER NOT NULL CHECK (seen >= 0 AND seen < entry),
    name TEXT NOT NULL CHECK (name <> ''),
    role TEXT NOT NULL CHECK (role <> ''),
    at_ms INTEGER NOT NULL,
    kind TEXT NOT NULL CHECK (kind IN ('confirm', 'change', 'reject', 'add', 'undo')),
    finding INTEGER,     -- of the draft, by its number from 1
    of_entry INTEGER,    -- the entry that added the finding, or that is undone
    item TEXT,
    side TEXT,
    value TEXT,
    approx INTEGER CHECK (approx IN (0, 1)),
    seal TEXT NOT NULL,
    UNIQUE (record, entry)
) STRICT;

-- Signed versions of records. sha256 covers the draft, all entries up to the last, what stands, signer and time.
CREATE TABLE signatures (
    number INTEGER PRIMARY KEY AUTOINCREMENT,
    record TEXT NOT NULL REFERENCES records (id),
    version INTEGER NOT NULL CHECK (version >= 1),
    draft INTEGER NOT NULL,
    entries INTEGER NOT NULL CHECK (entries >= 0),
    name TEXT NOT NULL CHECK (name <> ''),
    role TEXT NOT NULL CHECK (role <> ''),
    at_ms INTEGER NOT NULL,
    reason TEXT CHECK ((reason IS NULL) = (version = 1)),
    predecessor TEXT CHECK ((predecessor IS NULL) = (version = 1)),
    sha256 TEXT NOT NULL,
    seal TEXT NOT NULL,
    UNIQUE (record, version)
) STRICT;

-- Words by which a record is found: of its file's name, and what was said of the infant.
CREATE TABLE search (
    number INTEGER PRIMARY KEY AUTOINCREMENT,
    record TEXT NOT NULL REFERENCES records (id),
    words TEXT NOT NULL,
    seal TEXT NOT NULL
) STRICT;

CREATE INDEX recording_events_of ON recording_events (recording, number);
CREATE INDEX search_of ON search (record, words);
CREATE INDEX records_of ON records (recording);

CREATE TRIGGER store_not_altered BEFORE UPDATE ON store
BEGIN SELECT RAISE(ABORT, 'the store only grows: no row of store is altered'); END;

CREATE TRIGGER store_not_deleted BEFORE DELETE ON store
BEGIN SELECT RAISE(ABORT, 'the store only grows: no row of store is deleted'); END;

CREATE TRIGGER recordings_not_altered BEFORE UPDATE ON recordings
BEGIN SELECT RAISE(ABORT, 'the store only grows: no row of recordings is altered'); END;

CREATE TRIGGER recordings_not_deleted BEFORE DELETE ON recordings
BEGIN SELECT RAISE(ABORT, 'the store only grows: no row of recordings is deleted'); END;

CREATE TRIGGER recording_events_not_altered BEFORE UPDATE ON recording_events
BEGIN SELECT RAISE(ABORT, 'the store only grows: no row of recording_events is altered'); END;

CREATE TRIGGER recording_events_not_deleted BEFORE DELETE ON recording_events
BEGIN SELECT RAISE(ABORT, 'the store only grows: no row of recording_events is deleted'); END;

CREATE TRIGGER records_not_altered BEFORE UPDATE ON records
BEGIN SELECT RAISE(ABORT, 'the store only grows: no row of records is altered'); END;

CREATE TRIGGER records_not_deleted BEFORE DELETE ON records
BEGIN SELECT RAISE(ABORT, 'the store only grows: no row of records is deleted'); END;

CREATE TRIGGER drafts_not_altered BEFORE UPDATE ON drafts
BEGIN SELECT RAISE(ABORT, 'the store only grows: no row of drafts is altered'); END;

CREATE TRIGGER drafts_not_deleted BEFORE DELETE ON drafts
BEGIN SELECT RAISE(ABORT, 'the store only grows: no row of drafts is deleted'); END;

CREATE TRIGGER entries_not_altered BEFORE UPDATE ON entries
BEGIN SELECT RAISE(ABORT, 'the store only grows: no row of entries is altered'); END;

CREATE TRIGGER entries_not_deleted BEFORE DELETE ON entries
BEGIN SELECT RAISE(ABORT, 'the store only grows: no row of entries is deleted'); END;

CREATE TRIGGER signatures_not_altered BEFORE UPDATE ON signatures
BEGIN SELECT RAISE(ABORT, 'the store only grows: no row of signatures is altered'); END;

CREATE TRIGGER signatures_not_deleted BEFORE DELETE ON signatures
BEGIN SELECT RAISE(ABORT, 'the store only grows: no row of signatures is deleted'); END;

CREATE TRIGGER search_not_altered BEFORE UPDATE ON search
BEGIN SELECT RAISE(ABORT, 'the store only grows: no row of search is altered'); END;

CREATE TRIGGER search_not_deleted BEFORE DELETE ON search
BEGIN SELECT RAISE(ABORT, 'the store only grows: no row of search is deleted'); END;

CREATE TRIGGER drafts_without_a_gap BEFORE INSERT ON drafts
WHEN NEW.version <> (SELECT coalesce(max(version), 0) + 1 FROM drafts WHERE record = NEW.record)
BEGIN SELECT RAISE(ABORT, 'the store only grows: drafts of a record are numbered without a gap'); END;

CREATE TRIGGER entries_without_a_gap BEFORE INSERT ON entries
WHEN NEW.entry <> (SELECT coalesce(max(entry), 0) + 1 FROM entries WHERE record = NEW.record)
BEGIN SELECT RAISE(ABORT, 'the store only grows: entries of a record are numbered without a gap'); END;

CREATE TRIGGER signatures_without_a_gap BEFORE INSERT ON signatures
WHEN NEW.version <> (SELECT coalesce(max(version), 0) + 1 FROM signatures WHERE record = NEW.record)
BEGIN SELECT RAISE(ABORT, 'the store only grows: signatures of a record are numbered without a gap'); END;
