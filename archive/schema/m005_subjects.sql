ALTER TABLE works ADD COLUMN country TEXT /* where it was made, or its painter's country, as the record says */;

-- What works show, as far as their records say: one row for each subject of a work.
CREATE TABLE work_subjects (
    work TEXT NOT NULL REFERENCES works(work) ON DELETE CASCADE DEFERRABLE INITIALLY DEFERRED,
    subject TEXT NOT NULL,
    PRIMARY KEY (work, subject)
);
CREATE INDEX work_subjects_by_subject ON work_subjects(subject);
