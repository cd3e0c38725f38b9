ALTER TABLE measure_meanings ADD COLUMN formula TEXT NOT NULL DEFAULT '';
