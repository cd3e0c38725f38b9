-- Works that somebody took out by hand stay out, so they are noted like what gave no work.
CREATE TABLE set_aside_now (
    file TEXT NOT NULL,
    work TEXT NOT NULL,
    title TEXT,
    kind TEXT NOT NULL CHECK (kind IN ('rights', 'record', 'picture', 'withdrawn')),
    reason TEXT NOT NULL,
    rights TEXT,                    -- the statement that was refused
    PRIMARY KEY (file, work)
);
INSERT INTO set_aside_now SELECT file, work, title, kind, reason, rights FROM set_aside;
DROP TABLE set_aside;
ALTER TABLE set_aside_now RENAME TO set_aside;
