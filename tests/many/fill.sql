-- Fills an empty book with an invented facility: `size` says how large, `pattern` what one fish and one photo look like.
-- Lines are inbred chains: the parents of each cross come from the first brood of the cross before it in the line. Every
-- brood sat twice, two trays each; every fish is confirmed on five axes, one in four red-free; those of the later sitting
-- are sexed. Numbers follow from the row's own number, so that two runs give the same book.

CREATE TEMP TABLE number AS
    WITH RECURSIVE up (i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM up WHERE i < (SELECT crosses * broods * 80 FROM size))
    SELECT i FROM up;

INSERT INTO sheet (hash, text, kept_at) SELECT sheet_hash, sheet_text, '2026-01-01T00:00:00Z' FROM pattern;

INSERT INTO crosses (id, name) SELECT i, printf('C%d', i) FROM number WHERE i <= (SELECT crosses FROM size);

INSERT INTO brood (id, name, cross_id, dropped_from, dropped_to)
    SELECT i, printf('C%d-%d', (i - 1) / broods + 1, (i - 1) % broods + 1), (i - 1) / broods + 1,
           date('2016-01-01', printf('+%d days', day)), date('2016-01-01', printf('+%d days', day))
    FROM (SELECT n.i, s.broods, (n.i - 1) / s.broods / s.lines * 180 + (n.i - 1) % s.broods * 28 AS day
          FROM number n, size s WHERE n.i <= s.crosses * s.broods);

INSERT INTO fish (id, name, sex, line, cross_id, brood_id)
    SELECT n.i, printf('C%d-%s', (n.i + 1) / 2, iif(n.i % 2, 's', 'd')), iif(n.i % 2, 'm', 'f'),
           printf('Line %d', ((n.i + 1) / 2 - 1) % s.lines + 1),
           iif((n.i + 1) / 2 > s.lines, (n.i + 1) / 2 - s.lines, NULL),
           iif((n.i + 1) / 2 > s.lines, ((n.i + 1) / 2 - s.lines - 1) * s.broods + 1, NULL)
    FROM number n, size s WHERE n.i <= 2 * s.crosses;

INSERT INTO cross_sire (cross_id, fish_id) SELECT i, 2 * i - 1 FROM number WHERE i <= (SELECT crosses FROM size);
INSERT INTO cross_dam (cross_id, fish_id) SELECT i, 2 * i FROM number WHERE i <= (SELECT crosses FROM size);

INSERT INTO sitting (id, brood_id, day)
    SELECT n.i, b.id, date(b.dropped_from, iif(n.i % 2, '+30 days', '+90 days'))
    FROM number n JOIN brood b ON b.id = (n.i + 1) / 2;

INSERT INTO photo (id, hash, name, bytes, width, height, taken, view, sitting_id, original, kept_at)
    SELECT n.i, printf('%064x', n.i), printf('tray-%d.jpg', n.i), 1, 2000, 1500, s.day || 'T10:00:00', 'above', s.id,
           printf('originals/00/%064x.jpg', n.i), '2026-01-01T00:00:00Z'
    FROM number n JOIN sitting s ON s.id = (n.i + 1) / 2;

INSERT INTO measurement (id, photo_id, measured_at, program, sheet_hash, card_layout, options, verdict, report)
    SELECT p.id, p.id, '2026-01-01T00:00:00Z', 'made up', t.sheet_hash, 'chart-24', t.options, 'good', t.report
    FROM photo p, pattern t;

INSERT INTO region (id, measurement_id, photo_id, n, root_id, stands, centre_x, centre_y, box, outline, features, flags,
                    number, area_px)
    SELECT i, (i + 19) / 20, (i + 19) / 20, (i - 1) % 20 + 1, i, 1, 100, 100, '[90,95,110,105]', t.outline,
           replace(t.features, '"?"', printf('%.2f', 65 + (i * 7919) % 1000 / 100.0)), '[]', 1, 200
    FROM number, pattern t;

CREATE TEMP TABLE said AS
    WITH axis (axis, common, rare) AS (VALUES ('base', 'grey', 'blond'), ('body-colour', 'red', 'white'),
        ('red-body', 'full', 'absent'), ('red-finnage', 'full', 'absent'), ('yellow', 'absent', 'present'))
    SELECT * FROM axis;

INSERT INTO proposal (region_id, axis, class, confidence, because)
    SELECT i, axis, iif(i * 7919 % 100 < 25, rare, common), 0.95, t.because FROM number, said, pattern t;

INSERT INTO decision (id, made_at, made_by, what)
    SELECT id, '2026-01-01T00:00:00Z', 'Ann', 'confirm' FROM sitting;

-- A scorer who now and then disagrees with the proposal.
INSERT INTO change (decision_id, region_id, field, axis, new)
    SELECT (i + 39) / 40, i, 'class', axis, iif((i * 7919 % 100 < 25) <> (i % 97 = 0), rare, common) FROM number, said;

INSERT INTO change (decision_id, region_id, field, new)
    SELECT (i + 39) / 40, i, 'sex', iif(i % 2, 'm', 'f') FROM number WHERE (i + 39) / 40 % 2 = 0;
