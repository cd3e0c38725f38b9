-- Boards: leaves gathered for a lesson. Nothing is ever deleted here; what is put away can be taken out again.
CREATE TABLE boards (
    board TEXT PRIMARY KEY,
    title TEXT NOT NULL,
    aim TEXT NOT NULL DEFAULT '',
    notes TEXT NOT NULL DEFAULT '',
    task TEXT NOT NULL DEFAULT '',       -- the practice task
    version INTEGER NOT NULL,            -- counts the changes, from 1
    archived INTEGER NOT NULL DEFAULT 0 CHECK (archived IN (0, 1)),
    beside TEXT REFERENCES boards(board),  -- the board that this one was parted from when two people changed the same
    changed_at TEXT NOT NULL             -- UTC
);
CREATE INDEX boards_by_change ON boards(archived, changed_at);

-- The leaves of boards, also those that were removed (removed_in is the version that removed them).
CREATE TABLE leaves (
    board TEXT NOT NULL REFERENCES boards(board),
    leaf TEXT NOT NULL,
    place INTEGER NOT NULL,              -- order on the board
    document TEXT NOT NULL,              -- JSON: what is shown, how, note, question
    removed_in INTEGER,
    PRIMARY KEY (board, leaf)
);
CREATE INDEX leaves_in_order ON leaves(board, place);

-- What stood there before each change, so that somebody who began from an older version can be told apart.
CREATE TABLE changes (
    board TEXT NOT NULL REFERENCES boards(board),
    version INTEGER NOT NULL,            -- the version that the change made
    what TEXT NOT NULL,                  -- title, aim, notes, task, archived, order, or a field of a leaf (leaf/note)
    before TEXT NOT NULL,                -- JSON
    changed_at TEXT NOT NULL,
    PRIMARY KEY (board, version, what)
);
CREATE INDEX changes_of_one ON changes(board, what, version);

-- Which works and kept studies are on which boards.
CREATE VIEW shown_on_boards AS
SELECT leaves.board, leaves.leaf, boards.title,
    nullif(json_extract(shown.value, '$.work'), '') AS work,
    nullif(json_extract(shown.value, '$.study'), '') AS study
FROM leaves JOIN boards USING (board), json_each(leaves.document, '$.shown') AS shown
WHERE leaves.removed_in IS NULL;
