//! What second scorers said, apart from the scores that count.

use std::collections::BTreeMap;

use super::Read;
use crate::error::Result;

/// The classes that `scorer` gave as a second scorer, by fish (its region's number) and axis.
///
/// # Errors
/// The book cannot be read.
pub fn of_scorer(book: &Read<'_>, scorer: &str) -> Result<BTreeMap<(i64, String), String>> {
    let mut statement = book.conn.prepare_cached(
        "SELECT c.region_id, c.axis, c.new FROM change c JOIN decision d ON d.id = c.decision_id
         WHERE c.field = 'opinion' AND d.made_by = ?1 ORDER BY c.id",
    )?;
    let mut rows = statement.query([scorer])?;
    let mut said = BTreeMap::new();
    while let Some(row) = rows.next()? {
        let key = (row.get(0)?, row.get(1)?);
        match row.get::<_, Option<String>>(2)? {
            Some(class) => said.insert(key, class),
            None => said.remove(&key),
        };
    }
    Ok(said)
}

/// Everyone who ever scored as a second scorer, by name.
///
/// # Errors
/// The book cannot be read.
pub fn scorers(book: &Read<'_>) -> Result<Vec<String>> {
    let mut statement = book.conn.prepare_cached(
        "SELECT DISTINCT d.made_by FROM change c JOIN decision d ON d.id = c.decision_id
         WHERE c.field = 'opinion' ORDER BY d.made_by",
    )?;
    let names = statement.query_map([], |row| row.get(0))?;
    Ok(names.collect::<rusqlite::Result<_>>()?)
}
