-- Where a work lies on the map of the archive, 0 to 1 each way: works that are built alike lie near one another.
ALTER TABLE works ADD COLUMN map_x REAL;
ALTER TABLE works ADD COLUMN map_y REAL;

-- The arrangements that lie nearest to an arrangement, and what this one has that they have not.
CREATE TABLE arrangement_neighbours (
    arrangement INTEGER NOT NULL REFERENCES arrangements(arrangement) ON DELETE CASCADE DEFERRABLE INITIALLY DEFERRED,
    place INTEGER NOT NULL,         -- 1 for the nearest
    neighbour INTEGER NOT NULL REFERENCES arrangements(arrangement) ON DELETE CASCADE DEFERRABLE INITIALLY DEFERRED,
    but TEXT NOT NULL,              -- in words; '' where nothing much sets the two apart
    PRIMARY KEY (arrangement, place)
);
