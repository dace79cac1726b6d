-- The rows of `photo_tally` for photo ?1, out of its regions, their proposals and the log. CROSS JOIN keeps SQLite from
-- beginning with all proposals or all of the log. The name is that of the decision that wrote the word, an undo's as well: counting asks for
-- none, and fish are shown by `regions`.
WITH fish AS MATERIALIZED (
    SELECT r.id, r.root_id, r.number,
           (SELECT c.new FROM change c WHERE c.region_id = r.root_id AND c.field = 'sex' AND c.axis = ''
            ORDER BY c.id DESC LIMIT 1) AS sex,
           (SELECT c.new FROM change c WHERE c.region_id = r.root_id AND c.field = 'aside' AND c.axis = ''
            ORDER BY c.id DESC LIMIT 1) AS aside,
           (SELECT c.new FROM change c WHERE c.region_id = r.root_id AND c.field = 'gone' AND c.axis = ''
            ORDER BY c.id DESC LIMIT 1) AS gone
    FROM region r WHERE r.photo_id = ?1 AND r.stands = 1),
axes AS MATERIALIZED (
    SELECT '' AS axis
    UNION SELECT p.axis FROM fish f CROSS JOIN proposal p ON p.region_id = f.id
    UNION SELECT c.axis FROM fish f CROSS JOIN change c ON c.region_id = f.root_id AND c.field = 'class'),
on_axis AS (
    SELECT f.*, a.axis, (SELECT p.class FROM proposal p WHERE p.region_id = f.id AND p.axis = a.axis) AS proposed,
           (SELECT c.id FROM change c WHERE c.region_id = f.root_id AND c.field = 'class' AND c.axis = a.axis
            ORDER BY c.id DESC LIMIT 1) AS last_word
    FROM axes a CROSS JOIN fish f)
SELECT ?1, o.axis, coalesce(o.sex, ''), o.aside IS NOT NULL, coalesce(o.gone, ''), coalesce(c.new, ''),
       CASE WHEN c.new IS NULL THEN '' ELSE d.made_by END, coalesce(o.proposed, ''), count(*), sum(o.number)
FROM on_axis o LEFT JOIN change c ON c.id = o.last_word LEFT JOIN decision d ON d.id = c.decision_id
GROUP BY 2, 3, 4, 5, 6, 7, 8
ORDER BY 2, 3, 4, 5, 6, 7, 8
