-- The fish of each photo as they stand today, sorted and added up, so that a book of many years is counted without reading
-- its log. All of it follows from regions, proposals and the log; '' stands for nothing said or proposed.

-- One row for fish of one photo that are alike in all that counting asks of one axis. A photo has rows for every axis on
-- which something was ever proposed or said there, and rows of axis '' that serve for all others.
CREATE TABLE photo_tally (
    photo_id INTEGER NOT NULL REFERENCES photo (id),
    axis     TEXT NOT NULL,
    sex      TEXT NOT NULL,
    aside    INTEGER NOT NULL CHECK (aside IN (0, 1)),
    gone     TEXT NOT NULL,
    class    TEXT NOT NULL,
    said_by  TEXT NOT NULL,
    proposed TEXT NOT NULL,
    regions  INTEGER NOT NULL CHECK (regions >= 1),
    number   INTEGER NOT NULL CHECK (number >= regions),
    PRIMARY KEY (photo_id, axis, sex, aside, gone, class, said_by, proposed)
) STRICT, WITHOUT ROWID;

-- Photos whose rows there are not up to date: sorted anew before whatever touched them is kept.
CREATE TABLE photo_unsorted (
    photo_id INTEGER PRIMARY KEY REFERENCES photo (id)
) STRICT;

-- Axes on which a fish of a photo was ever given a class.
CREATE TABLE scored_axis (
    axis TEXT PRIMARY KEY
) STRICT, WITHOUT ROWID;

CREATE TRIGGER change_unsorts AFTER INSERT ON change WHEN NEW.region_id IS NOT NULL AND NEW.field <> 'opinion' BEGIN
    INSERT OR IGNORE INTO photo_unsorted SELECT photo_id FROM region WHERE id = NEW.region_id;
END;
CREATE TRIGGER change_names_axis AFTER INSERT ON change WHEN NEW.region_id IS NOT NULL AND NEW.field = 'class' BEGIN
    INSERT OR IGNORE INTO scored_axis VALUES (NEW.axis);
END;
CREATE TRIGGER region_unsorts AFTER INSERT ON region BEGIN
    INSERT OR IGNORE INTO photo_unsorted VALUES (NEW.photo_id);
END;
CREATE TRIGGER region_changed_unsorts AFTER UPDATE ON region BEGIN
    INSERT OR IGNORE INTO photo_unsorted VALUES (NEW.photo_id);
END;
CREATE TRIGGER proposal_unsorts AFTER INSERT ON proposal BEGIN
    INSERT OR IGNORE INTO photo_unsorted SELECT photo_id FROM region WHERE id = NEW.region_id;
END;
CREATE TRIGGER proposal_changed_unsorts AFTER UPDATE ON proposal BEGIN
    INSERT OR IGNORE INTO photo_unsorted SELECT photo_id FROM region WHERE id IN (OLD.region_id, NEW.region_id);
END;
CREATE TRIGGER proposal_gone_unsorts AFTER DELETE ON proposal BEGIN
    INSERT OR IGNORE INTO photo_unsorted SELECT photo_id FROM region WHERE id = OLD.region_id;
END;

INSERT INTO photo_unsorted SELECT DISTINCT photo_id FROM region;
INSERT INTO scored_axis SELECT DISTINCT axis FROM change WHERE region_id IS NOT NULL AND field = 'class';
