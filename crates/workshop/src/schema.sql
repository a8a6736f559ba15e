-- The workshop's tables, version 1. Times are milliseconds since 1970 (UTC); money is in minor units of
-- its currency; JSON columns hold plain data of the crate that reads them.

-- Which workshop this is: a backup is never written over the backup of another one.
CREATE TABLE identity (
    id BLOB NOT NULL CHECK (length(id) = 16)
) STRICT;
INSERT INTO identity (id) VALUES (randomblob(16));

-- A document with its history: a piece, or the work on one photo's outlines.
CREATE TABLE document (
    id   INTEGER PRIMARY KEY AUTOINCREMENT,
    kind TEXT NOT NULL CHECK (kind IN ('piece', 'work')),
    head INTEGER REFERENCES revision (id) DEFERRABLE INITIALLY DEFERRED
) STRICT;

-- One state of a document. Undo moves the document's head to `parent`, redo to `next`; an edit after an undo
-- begins another branch, and the former one stays.
CREATE TABLE revision (
    id         INTEGER PRIMARY KEY AUTOINCREMENT,
    document   INTEGER NOT NULL REFERENCES document (id) DEFERRABLE INITIALLY DEFERRED,
    parent     INTEGER REFERENCES revision (id) DEFERRABLE INITIALLY DEFERRED,
    next       INTEGER REFERENCES revision (id) DEFERRABLE INITIALLY DEFERRED,
    -- Another revision whose whole text this one's body changes; NULL where the body is the text itself.
    base       INTEGER REFERENCES revision (id) DEFERRABLE INITIALLY DEFERRED,
    -- Bytes of changes stored since the last whole text, this one's included.
    since_base INTEGER NOT NULL,
    at_ms      INTEGER NOT NULL,
    label      TEXT NOT NULL,
    -- Revisions of one gesture in a row are undone and redone as one.
    gesture    TEXT,
    -- SHA-256 of the text.
    digest     BLOB NOT NULL CHECK (length(digest) = 32),
    body       BLOB NOT NULL
) STRICT;
CREATE INDEX revision_of_document ON revision (document, id);
CREATE INDEX revision_of_parent ON revision (parent) WHERE parent IS NOT NULL;
CREATE INDEX revision_of_next ON revision (next) WHERE next IS NOT NULL;
CREATE INDEX revision_of_base ON revision (base) WHERE base IS NOT NULL;

-- What the list of pieces shows is kept beside the document, so that the list opens no document.
CREATE TABLE piece (
    id         INTEGER PRIMARY KEY AUTOINCREMENT,
    document   INTEGER NOT NULL UNIQUE REFERENCES document (id),
    name       TEXT NOT NULL,
    parts      INTEGER NOT NULL,
    placed     INTEGER NOT NULL,
    created_ms INTEGER NOT NULL,
    changed_ms INTEGER NOT NULL,
    -- When it was put in the bin.
    binned_ms  INTEGER
) STRICT;

-- Files in images/, by SHA-256 of their bytes.
CREATE TABLE image (
    digest   BLOB PRIMARY KEY CHECK (length(digest) = 32),
    kind     TEXT NOT NULL,
    bytes    INTEGER NOT NULL,
    added_ms INTEGER NOT NULL
) STRICT;

-- Images that any revision of a piece shows: undo may bring each of them back.
CREATE TABLE piece_image (
    piece INTEGER NOT NULL REFERENCES piece (id),
    image BLOB NOT NULL REFERENCES image (digest),
    PRIMARY KEY (piece, image)
) STRICT, WITHOUT ROWID;
CREATE INDEX piece_image_of_image ON piece_image (image);

-- Photos of a piece's parts, their backs, and the opened device.
CREATE TABLE photo (
    id        INTEGER PRIMARY KEY AUTOINCREMENT,
    piece     INTEGER NOT NULL REFERENCES piece (id),
    image     BLOB NOT NULL REFERENCES image (digest),
    name      TEXT NOT NULL,
    role      TEXT NOT NULL CHECK (role IN ('parts', 'backs', 'inside')),
    -- Inside photos: how far the device was taken apart, from 0.
    stage     INTEGER,
    -- Strokes, thicknesses and the way it was taken: a document of its own, with its own undo.
    work      INTEGER NOT NULL UNIQUE REFERENCES document (id),
    -- The outlines last found, and of which state of the work.
    found     TEXT,
    found_for INTEGER REFERENCES revision (id),
    added_ms  INTEGER NOT NULL,
    -- When it was taken away; its outlines may live on in the piece.
    binned_ms INTEGER
) STRICT;
CREATE INDEX photo_of_piece ON photo (piece);
CREATE INDEX photo_of_image ON photo (image);
CREATE INDEX photo_found_for ON photo (found_for) WHERE found_for IS NOT NULL;

-- What somebody has typed and not yet entered, by page and window.
CREATE TABLE draft (
    place    TEXT PRIMARY KEY,
    piece    INTEGER REFERENCES piece (id),
    based_on INTEGER,
    body     TEXT NOT NULL,
    at_ms    INTEGER NOT NULL
) STRICT;
CREATE INDEX draft_of_piece ON draft (piece) WHERE piece IS NOT NULL;

-- The drawer: parts that are there, whatever device they came from.
CREATE TABLE stock (
    id             INTEGER PRIMARY KEY AUTOINCREMENT,
    name           TEXT NOT NULL,
    kind           TEXT NOT NULL,
    -- The model of device whose part it is, as the shop calls it.
    model          TEXT NOT NULL,
    condition      TEXT NOT NULL CHECK (condition IN ('whole', 'marked', 'broken', 'untested')),
    origin         TEXT NOT NULL,
    -- The lot it came with. No longer written: a piece's document holds the lots that it is made of.
    lot            INTEGER REFERENCES lot (id),
    -- The part as captured (outline, thickness, cut-out), JSON of a piece's part.
    part           TEXT CHECK (part IS NULL OR json_valid(part)),
    image          BLOB REFERENCES image (digest),
    reserved_for   INTEGER REFERENCES piece (id),
    reserved_part  TEXT,
    note           TEXT NOT NULL,
    added_ms       INTEGER NOT NULL,
    -- When it left the drawer, and why: built in, recycled, sold.
    gone_ms        INTEGER,
    gone_why       TEXT,
    CHECK (reserved_part IS NULL OR reserved_for IS NOT NULL)
) STRICT;
CREATE INDEX stock_of_piece ON stock (reserved_for) WHERE reserved_for IS NOT NULL;
CREATE INDEX stock_of_lot ON stock (lot) WHERE lot IS NOT NULL;
CREATE INDEX stock_of_image ON stock (image) WHERE image IS NOT NULL;

-- Lots on offer, bought and gone: dead devices that could give parts. No longer written, as above; the table stays, so that
-- this form is the same in every workshop.
CREATE TABLE lot (
    id             INTEGER PRIMARY KEY AUTOINCREMENT,
    name           TEXT NOT NULL,
    model          TEXT NOT NULL,
    price_minor    INTEGER NOT NULL CHECK (price_minor >= 0),
    shipping_minor INTEGER NOT NULL CHECK (shipping_minor >= 0),
    currency       TEXT NOT NULL CHECK (length(currency) = 3),
    condition      TEXT NOT NULL,
    state          TEXT NOT NULL CHECK (state IN ('offered', 'bought', 'gone')),
    -- What each part's chance of coming out whole is, and the chance that the lot is dead whole: ledger's form.
    chances        TEXT NOT NULL CHECK (json_valid(chances)),
    note           TEXT NOT NULL,
    added_ms       INTEGER NOT NULL
) STRICT;

-- What came of a verdict: the shop's own counts, from which chances are learnt.
CREATE TABLE outcome (
    id       INTEGER PRIMARY KEY AUTOINCREMENT,
    at_ms    INTEGER NOT NULL,
    -- Kind of device, and the verdict that was followed.
    kind     TEXT NOT NULL,
    verdict  TEXT NOT NULL CHECK (verdict IN ('repair', 'donor', 'display')),
    -- 1 where the aim was reached, 0 where not, NULL while it is open.
    reached  INTEGER CHECK (reached IN (0, 1)),
    -- What was seen at intake and what came out whole: ledger's form.
    evidence TEXT NOT NULL CHECK (json_valid(evidence)),
    yields   TEXT NOT NULL CHECK (json_valid(yields)),
    piece    INTEGER REFERENCES piece (id),
    note     TEXT NOT NULL
) STRICT;
CREATE INDEX outcome_of_piece ON outcome (piece) WHERE piece IS NOT NULL;

-- One row a setting; JSON values.
CREATE TABLE setting (
    name  TEXT PRIMARY KEY,
    value TEXT NOT NULL CHECK (json_valid(value))
) STRICT;

-- What happened lately. No longer written: pages that are open are told by the process that wrote.
CREATE TABLE event (
    id       INTEGER PRIMARY KEY AUTOINCREMENT,
    at_ms    INTEGER NOT NULL,
    what     TEXT NOT NULL,
    piece    INTEGER,
    subject  INTEGER
) STRICT;
