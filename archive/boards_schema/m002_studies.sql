-- Studies that somebody chose to keep. All that is derived from one lies in its row or falls with it.
CREATE TABLE studies (
    number INTEGER PRIMARY KEY,          -- in the order of keeping
    study TEXT NOT NULL UNIQUE,          -- its name everywhere else
    nickname TEXT NOT NULL,              -- of whoever made it; '' for none
    title TEXT NOT NULL,
    kept_on TEXT NOT NULL,               -- the day, YYYY-MM-DD; no time of day
    width INTEGER NOT NULL,              -- of the picture, px
    height INTEGER NOT NULL,
    picture BLOB NOT NULL,               -- JPEG made anew from pixels: nothing of what a camera wrote is in it
    map3 BLOB NOT NULL,                  -- PNG, the three-value map
    sentence TEXT NOT NULL,
    arrangement TEXT NOT NULL,           -- slug of the arrangement it came nearest to on that day; '' for none
    arrangement_name TEXT NOT NULL,
    degree REAL,                         -- how clearly it belonged there, 0 to 1
    measures TEXT NOT NULL,              -- JSON, by the names of the measures of an archive
    reading_version TEXT NOT NULL
);
CREATE INDEX studies_by_nickname ON studies(nickname, number);
