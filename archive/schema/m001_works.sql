-- Where the pictures were obtained from.
CREATE TABLE sources (
    source INTEGER PRIMARY KEY,
    obtained_from TEXT NOT NULL UNIQUE
);

-- Groups of works that are built alike; their numbers stay when the groups are fitted again.
CREATE TABLE arrangements (
    arrangement INTEGER PRIMARY KEY,
    slug TEXT NOT NULL UNIQUE,
    name TEXT NOT NULL,
    sentence TEXT NOT NULL,
    mean TEXT,                      -- picture: the mean lightness of its members
    spread TEXT,                    -- picture: how far they differ from it, black for not at all
    medoid TEXT REFERENCES works(work) ON DELETE SET NULL DEFERRABLE INITIALLY DEFERRED,
    members INTEGER NOT NULL
);

-- One painting in the archive. Pictures are named as they lie under the folder pictures.
CREATE TABLE works (
    work TEXT PRIMARY KEY,
    title TEXT,
    artist TEXT,
    artist_dates TEXT,
    date TEXT,
    begin_year INTEGER,
    end_year INTEGER,
    century INTEGER,                -- of the middle of its years; 17 is 1601 to 1700, -1 is 100 to 1 before our era
    medium TEXT,
    culture TEXT,
    collection TEXT,
    accession_number TEXT,
    object_url TEXT,
    source INTEGER REFERENCES sources(source) DEFERRABLE INITIALLY DEFERRED,
    rights TEXT NOT NULL,           -- published address of the rights statement
    rights_basis TEXT,
    credit_line TEXT,               -- as the collection gives it
    credit TEXT NOT NULL,           -- the whole line to print under the picture
    file TEXT NOT NULL,             -- as the record named it
    sha256 TEXT NOT NULL,           -- of the file's bytes
    width INTEGER NOT NULL,         -- of the file, upright, px
    height INTEGER NOT NULL,
    trimmed TEXT NOT NULL,          -- JSON [x0, y0, x1, y1] in px of the file, upright
    trims TEXT NOT NULL,            -- JSON list of what was trimmed away and why
    profile TEXT NOT NULL,          -- the colour profile that was used
    display_width INTEGER NOT NULL, -- of the display copy, px
    display_height INTEGER NOT NULL,
    painting TEXT NOT NULL,
    thumb TEXT NOT NULL,
    squint TEXT NOT NULL,
    map2 TEXT NOT NULL,
    map3 TEXT NOT NULL,
    map5 TEXT NOT NULL,
    arrangement INTEGER REFERENCES arrangements(arrangement) ON DELETE SET NULL DEFERRABLE INITIALLY DEFERRED,
    degree REAL,                    -- how clearly it belongs to its arrangement, 0 to 1
    sentence TEXT NOT NULL,
    reading_version TEXT NOT NULL,
    row INTEGER UNIQUE              -- its row in signatures.npy, from 0
);
CREATE INDEX works_by_arrangement ON works(arrangement, degree);
CREATE INDEX works_by_artist ON works(artist);
CREATE INDEX works_by_century ON works(century);
CREATE INDEX works_by_source ON works(source);

-- The named types of tonal arrangement, and how far each work is of each.
CREATE TABLE types (
    type TEXT PRIMARY KEY,
    place INTEGER NOT NULL,
    name TEXT NOT NULL,
    sentence TEXT NOT NULL,
    source TEXT NOT NULL
);
CREATE TABLE work_types (
    work TEXT NOT NULL REFERENCES works(work) ON DELETE CASCADE DEFERRABLE INITIALLY DEFERRED,
    type TEXT NOT NULL REFERENCES types(type) DEFERRABLE INITIALLY DEFERRED,
    degree REAL NOT NULL,           -- 0 to 1
    PRIMARY KEY (work, type)
);
CREATE INDEX work_types_by_type ON work_types(type, degree);

-- What each column of the table measures says.
CREATE TABLE measure_meanings (
    measure TEXT PRIMARY KEY,
    place INTEGER NOT NULL,
    unit TEXT NOT NULL,
    says TEXT NOT NULL,
    source TEXT NOT NULL
);

-- What signatures.npy is made from.
CREATE TABLE signatures (
    work TEXT PRIMARY KEY REFERENCES works(work) ON DELETE CASCADE DEFERRABLE INITIALLY DEFERRED,
    signature BLOB NOT NULL
);

-- Files and rows of records that gave no work, each with the reason.
CREATE TABLE set_aside (
    file TEXT NOT NULL,
    work TEXT NOT NULL,
    title TEXT,
    kind TEXT NOT NULL CHECK (kind IN ('rights', 'record', 'picture')),
    reason TEXT NOT NULL,
    rights TEXT,                    -- the statement that was refused
    PRIMARY KEY (file, work)
);

CREATE TABLE settings (
    name TEXT PRIMARY KEY,
    value TEXT NOT NULL
);

CREATE VIRTUAL TABLE works_fts USING fts5(
    title, artist, culture, medium, collection, sentence,
    content='works', tokenize='unicode61 remove_diacritics 2'
);
