-- Names, words and notes are the breeder's own and are kept exactly as typed. Days are YYYY-MM-DD, moments are RFC 3339 in UTC.

-- Marks the file as a book: "Brdh" as a big-endian number, invented for this program.
PRAGMA application_id = 1114793064;

CREATE TABLE setting (
    name  TEXT PRIMARY KEY,
    value TEXT NOT NULL
) STRICT, WITHOUT ROWID;

-- Whatever a person decides is one row here, and its effects are rows of the logs below: who, when, why.
CREATE TABLE decision (
    id      INTEGER PRIMARY KEY AUTOINCREMENT,
    made_at TEXT NOT NULL,
    made_by TEXT NOT NULL,
    what    TEXT NOT NULL,
    why     TEXT,
    undoes  INTEGER UNIQUE REFERENCES decision (id)
) STRICT;

CREATE TABLE crosses (
    id      INTEGER PRIMARY KEY AUTOINCREMENT,
    name    TEXT NOT NULL UNIQUE CHECK (name <> ''),
    started TEXT CHECK (started IS date(started)),
    ended   TEXT CHECK (ended IS date(ended)),
    note    TEXT
) STRICT;

-- Breeders number broods within a cross, so a name is unique there and not in the book.
CREATE TABLE brood (
    id              INTEGER PRIMARY KEY AUTOINCREMENT,
    name            TEXT NOT NULL CHECK (name <> ''),
    cross_id        INTEGER NOT NULL REFERENCES crosses (id),
    dropped_from    TEXT CHECK (dropped_from IS date(dropped_from)),
    dropped_to      TEXT CHECK (dropped_to IS date(dropped_to)),
    young           INTEGER CHECK (young >= 0),
    earlier_sire_id INTEGER REFERENCES fish (id),
    earlier_unknown INTEGER NOT NULL DEFAULT 0 CHECK (earlier_unknown IN (0, 1)),
    note            TEXT,
    UNIQUE (cross_id, name),
    CHECK (dropped_to >= dropped_from),
    CHECK (earlier_sire_id IS NULL OR earlier_unknown = 0)
) STRICT;
CREATE INDEX brood_by_name ON brood (name);

-- What a brood is called where its cross is not named beside it.
CREATE VIEW brood_label AS
    SELECT b.id, CASE WHEN (SELECT count(*) FROM brood o WHERE o.name = b.name) > 1
                      THEN c.name || '/' || b.name ELSE b.name END AS label
    FROM brood b JOIN crosses c ON c.id = b.cross_id;

CREATE TABLE fish (
    id             INTEGER PRIMARY KEY AUTOINCREMENT,
    name           TEXT NOT NULL UNIQUE CHECK (name <> ''),
    sex            TEXT CHECK (sex IN ('m', 'f')),
    line           TEXT,
    cross_id       INTEGER REFERENCES crosses (id),
    brood_id       INTEGER REFERENCES brood (id),
    born           TEXT CHECK (born IS date(born)),
    pure           INTEGER NOT NULL DEFAULT 0 CHECK (pure IN (0, 1)),
    virgin_on      TEXT CHECK (virgin_on IS date(virgin_on)),
    isolated_since TEXT CHECK (isolated_since IS date(isolated_since)),
    note           TEXT
) STRICT;
CREATE INDEX fish_by_cross ON fish (cross_id);

CREATE TABLE cross_sire (
    id       INTEGER PRIMARY KEY AUTOINCREMENT,
    cross_id INTEGER NOT NULL REFERENCES crosses (id),
    fish_id  INTEGER NOT NULL REFERENCES fish (id),
    day_in   TEXT CHECK (day_in IS date(day_in)),
    day_out  TEXT CHECK (day_out IS date(day_out)),
    CHECK (day_out >= day_in)
) STRICT;
CREATE INDEX sire_by_cross ON cross_sire (cross_id);

-- A dam is a named fish or an unnamed sister out of a cross.
CREATE TABLE cross_dam (
    id        INTEGER PRIMARY KEY AUTOINCREMENT,
    cross_id  INTEGER NOT NULL REFERENCES crosses (id),
    fish_id   INTEGER REFERENCES fish (id),
    sister_of INTEGER REFERENCES crosses (id),
    day_in    TEXT CHECK (day_in IS date(day_in)),
    day_out   TEXT CHECK (day_out IS date(day_out)),
    CHECK (day_out >= day_in),
    CHECK ((fish_id IS NULL) <> (sister_of IS NULL))
) STRICT;
CREATE INDEX dam_by_cross ON cross_dam (cross_id);

-- Which dams may have dropped a brood. No row: any dam of the brood's own cross.
CREATE TABLE brood_dam (
    id       INTEGER PRIMARY KEY AUTOINCREMENT,
    brood_id INTEGER NOT NULL REFERENCES brood (id),
    dam_id   INTEGER NOT NULL REFERENCES cross_dam (id),
    UNIQUE (brood_id, dam_id)
) STRICT;

CREATE TABLE sitting (
    id       INTEGER PRIMARY KEY AUTOINCREMENT,
    brood_id INTEGER NOT NULL REFERENCES brood (id),
    day      TEXT NOT NULL CHECK (day IS date(day)),
    UNIQUE (brood_id, day)
) STRICT;

CREATE TABLE sheet (
    hash    TEXT PRIMARY KEY,
    text    TEXT NOT NULL,
    kept_at TEXT NOT NULL
) STRICT, WITHOUT ROWID;

-- One file, one row: the hash of its bytes is its identity. A tray photo belongs to a sitting, a portrait to a fish.
CREATE TABLE photo (
    id         INTEGER PRIMARY KEY AUTOINCREMENT,
    hash       TEXT NOT NULL UNIQUE,
    name       TEXT NOT NULL,
    bytes      INTEGER NOT NULL,
    width      INTEGER NOT NULL,
    height     INTEGER NOT NULL,
    taken      TEXT,
    view       TEXT NOT NULL CHECK (view IN ('above', 'side')),
    sitting_id INTEGER REFERENCES sitting (id),
    fish_id    INTEGER REFERENCES fish (id),
    original   TEXT NOT NULL,
    preview    TEXT,
    kept_at    TEXT NOT NULL,
    CHECK ((sitting_id IS NULL) <> (fish_id IS NULL))
) STRICT;
CREATE INDEX photo_by_sitting ON photo (sitting_id);
CREATE INDEX photo_by_fish ON photo (fish_id);

CREATE TABLE measurement (
    id           INTEGER PRIMARY KEY AUTOINCREMENT,
    photo_id     INTEGER NOT NULL REFERENCES photo (id),
    measured_at  TEXT NOT NULL,
    program      TEXT NOT NULL,
    sheet_hash   TEXT NOT NULL REFERENCES sheet (hash),
    card_layout  TEXT,
    card_edition TEXT,
    options      TEXT NOT NULL CHECK (json_valid(options)),
    verdict      TEXT NOT NULL,
    report       TEXT NOT NULL CHECK (json_valid(report))
) STRICT;
CREATE INDEX measurement_by_photo ON measurement (photo_id);

-- One fish as one measurement saw it. `root_id` is the first region of the same fish in the same photo; scores hang on
-- the root, so that measuring again never moves one. `stands` is 1 for what counts today.
CREATE TABLE region (
    id             INTEGER PRIMARY KEY AUTOINCREMENT,
    measurement_id INTEGER NOT NULL REFERENCES measurement (id),
    photo_id       INTEGER NOT NULL REFERENCES photo (id),
    n              INTEGER NOT NULL,
    root_id        INTEGER NOT NULL REFERENCES region (id),
    stands         INTEGER NOT NULL CHECK (stands IN (0, 1)),
    centre_x       REAL NOT NULL,
    centre_y       REAL NOT NULL,
    box            TEXT NOT NULL CHECK (json_valid(box)),
    outline        TEXT NOT NULL CHECK (json_valid(outline)),
    features       TEXT NOT NULL CHECK (json_valid(features)),
    flags          TEXT NOT NULL CHECK (json_valid(flags)),
    number         INTEGER NOT NULL CHECK (number >= 1),
    area_px        REAL NOT NULL,
    length_mm      REAL,
    standard_mm    REAL,
    UNIQUE (measurement_id, n)
) STRICT;
CREATE INDEX region_by_photo ON region (photo_id, stands);
CREATE INDEX region_by_root ON region (root_id);

CREATE TABLE region_link (
    old_id  INTEGER NOT NULL REFERENCES region (id),
    new_id  INTEGER NOT NULL REFERENCES region (id),
    overlap REAL NOT NULL,
    same    INTEGER NOT NULL CHECK (same IN (0, 1)),
    PRIMARY KEY (old_id, new_id)
) STRICT, WITHOUT ROWID;

CREATE TABLE proposal (
    region_id  INTEGER NOT NULL REFERENCES region (id),
    axis       TEXT NOT NULL,
    class      TEXT NOT NULL,
    confidence REAL NOT NULL CHECK (confidence BETWEEN 0 AND 1),
    because    TEXT NOT NULL CHECK (json_valid(because)),
    PRIMARY KEY (region_id, axis)
) STRICT, WITHOUT ROWID;

-- The log of scores and of all else that a person says about a fish or a photo: from what to what.
-- `opinion` is a second scorer's class, which never touches the first one's.
CREATE TABLE change (
    id          INTEGER PRIMARY KEY AUTOINCREMENT,
    decision_id INTEGER NOT NULL REFERENCES decision (id),
    region_id   INTEGER REFERENCES region (id),
    fish_id     INTEGER REFERENCES fish (id),
    photo_id    INTEGER REFERENCES photo (id),
    field       TEXT NOT NULL CHECK (field IN ('class', 'opinion', 'sex', 'aside', 'gone')),
    axis        TEXT NOT NULL DEFAULT '',
    old         TEXT,
    new         TEXT,
    CHECK ((region_id IS NOT NULL) + (fish_id IS NOT NULL) + (photo_id IS NOT NULL) = 1),
    CHECK ((axis <> '') = (field IN ('class', 'opinion')))
) STRICT;
CREATE INDEX change_by_region ON change (region_id, field, axis, id) WHERE region_id IS NOT NULL;
CREATE INDEX change_by_fish ON change (fish_id, field, axis, id) WHERE fish_id IS NOT NULL;
CREATE INDEX change_by_photo ON change (photo_id, field, id) WHERE photo_id IS NOT NULL;
CREATE INDEX change_by_decision ON change (decision_id);

CREATE VIEW current_region AS
    SELECT c.region_id, c.field, c.axis, c.new AS value, c.decision_id
    FROM change c
    WHERE c.region_id IS NOT NULL AND c.field <> 'opinion' AND c.id = (
        SELECT max(l.id) FROM change l WHERE l.region_id = c.region_id AND l.field = c.field AND l.axis = c.axis);

CREATE VIEW current_fish AS
    SELECT c.fish_id, c.field, c.axis, c.new AS value, c.decision_id
    FROM change c
    WHERE c.fish_id IS NOT NULL AND c.id = (
        SELECT max(l.id) FROM change l WHERE l.fish_id = c.fish_id AND l.field = c.field AND l.axis = c.axis);

CREATE VIEW current_photo AS
    SELECT c.photo_id, c.field, c.new AS value, c.decision_id
    FROM change c
    WHERE c.photo_id IS NOT NULL AND c.id = (
        SELECT max(l.id) FROM change l WHERE l.photo_id = c.photo_id AND l.field = c.field);

-- What a person mended in a photo by hand; replayed when it is measured again.
CREATE TABLE correction (
    id          INTEGER PRIMARY KEY AUTOINCREMENT,
    decision_id INTEGER NOT NULL REFERENCES decision (id),
    photo_id    INTEGER NOT NULL REFERENCES photo (id),
    edit        TEXT NOT NULL CHECK (json_valid(edit)),
    undoes      INTEGER UNIQUE REFERENCES correction (id)
) STRICT;
CREATE INDEX correction_by_photo ON correction (photo_id);

-- Young that left a brood unscored. A ledger: taking one back is a row with a negative number.
CREATE TABLE departure (
    id          INTEGER PRIMARY KEY AUTOINCREMENT,
    decision_id INTEGER NOT NULL REFERENCES decision (id),
    brood_id    INTEGER NOT NULL REFERENCES brood (id),
    day         TEXT NOT NULL CHECK (day IS date(day)),
    what        TEXT NOT NULL CHECK (what IN ('moved', 'died')),
    sex         TEXT CHECK (sex IN ('m', 'f')),
    number      INTEGER NOT NULL CHECK (number <> 0)
) STRICT;
CREATE INDEX departure_by_brood ON departure (brood_id);

-- Counts out of a notebook. A later taking-in of the same brood and axis replaces the earlier one, which stays on record.
CREATE TABLE hand_count (
    id          INTEGER PRIMARY KEY AUTOINCREMENT,
    decision_id INTEGER NOT NULL REFERENCES decision (id),
    brood_id    INTEGER NOT NULL REFERENCES brood (id),
    axis        TEXT NOT NULL CHECK (axis <> ''),
    class       TEXT NOT NULL CHECK (class <> ''),
    sex         TEXT CHECK (sex IN ('m', 'f')),
    number      INTEGER NOT NULL CHECK (number >= 0)
) STRICT;
CREATE INDEX hand_count_by_brood ON hand_count (brood_id, axis);

CREATE VIEW current_hand_count AS
    SELECT h.* FROM hand_count h
    WHERE h.decision_id = (
        SELECT max(l.decision_id) FROM hand_count l WHERE l.brood_id = h.brood_id AND l.axis = h.axis);

-- Logs only grow.
CREATE TRIGGER decision_stays BEFORE UPDATE ON decision BEGIN SELECT RAISE(ABORT, 'the log only grows'); END;
CREATE TRIGGER decision_kept BEFORE DELETE ON decision BEGIN SELECT RAISE(ABORT, 'the log only grows'); END;
CREATE TRIGGER change_stays BEFORE UPDATE ON change BEGIN SELECT RAISE(ABORT, 'the log only grows'); END;
CREATE TRIGGER change_kept BEFORE DELETE ON change BEGIN SELECT RAISE(ABORT, 'the log only grows'); END;
CREATE TRIGGER correction_stays BEFORE UPDATE ON correction BEGIN SELECT RAISE(ABORT, 'the log only grows'); END;
CREATE TRIGGER correction_kept BEFORE DELETE ON correction BEGIN SELECT RAISE(ABORT, 'the log only grows'); END;
CREATE TRIGGER departure_stays BEFORE UPDATE ON departure BEGIN SELECT RAISE(ABORT, 'the log only grows'); END;
CREATE TRIGGER departure_kept BEFORE DELETE ON departure BEGIN SELECT RAISE(ABORT, 'the log only grows'); END;
CREATE TRIGGER hand_count_stays BEFORE UPDATE ON hand_count BEGIN SELECT RAISE(ABORT, 'the log only grows'); END;
CREATE TRIGGER hand_count_kept BEFORE DELETE ON hand_count BEGIN SELECT RAISE(ABORT, 'the log only grows'); END;
CREATE TRIGGER region_kept BEFORE DELETE ON region BEGIN SELECT RAISE(ABORT, 'a region is never removed'); END;
CREATE TRIGGER photo_kept BEFORE DELETE ON photo BEGIN SELECT RAISE(ABORT, 'a photo is set aside, never removed'); END;
CREATE TRIGGER fish_kept BEFORE DELETE ON fish BEGIN SELECT RAISE(ABORT, 'a fish is set aside, never removed'); END;
