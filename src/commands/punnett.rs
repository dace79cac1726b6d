//! The Punnett table of a cross at its parents' likeliest genotypes, as part of `inherit`.

use serde_json::{Value, json};

use super::question::Asked;
use super::table::aligned;
use crate::error::{Error, Result};
use crate::inherit::{Cell, Gamete, ModeJudgement, Model, Punnett, SexSystem, SexSystems, punnett};
use crate::units::percent;

/// A cross with its table under one mode.
pub(super) struct CrossTable {
    cross: String,
    mode: String,
    dam: String,
    sire: String,
    table: Punnett,
}

impl CrossTable {
    /// The table of a cross under the best mode.
    ///
    /// # Errors
    /// A cross without broods; parents whose genotypes the mode does not tell.
    pub(super) fn of(
        cross: &str,
        asked: &Asked,
        (models, systems): (&[Model], SexSystems),
        best: &ModeJudgement,
    ) -> Result<Self> {
        let place = format!("cross {cross}");
        let brood = asked.evidence.broods.iter().find(|b| b.cross == cross);
        let brood =
            brood.ok_or_else(|| Error::failed(&place, "has no brood in the book", "`cross list` shows the names"))?;
        let likeliest = |fish: usize| {
            let list = &best.posterior.genotypes[fish];
            let top = list.iter().max_by(|a, b| a.probability.total_cmp(&b.probability));
            top.map(|g| g.genotype.clone()).unwrap_or_default()
        };
        let (dam, sire) = (likeliest(brood.parents[0].dam), likeliest(brood.parents[0].sire));
        let system = if systems == SexSystems::Known(SexSystem::Wxy) { SexSystem::Wxy } else { SexSystem::Xy };
        let model = models.iter().find(|m| m.mode.name == best.mode);
        let table = model.and_then(|m| punnett(&m.mode, system, &dam, &sire)).ok_or_else(|| {
            let hint = "write down the classes of both parents, or name other modes with --modes";
            Error::failed(&place, "its parents' genotypes are not known under the best mode", hint)
        })?;
        Ok(Self { cross: cross.to_owned(), mode: best.mode.clone(), dam, sire, table })
    }

    /// As JSON: one row of cells an egg, one cell a sperm; a cell that does not live has no class.
    pub(super) fn json(&self) -> Value {
        let gametes = |list: &[Gamete]| -> Value {
            list.iter().map(|g| json!({"gamete": g.name, "probability": g.probability})).collect()
        };
        let cell = |c: &Cell| json!({"genotype": c.genotype, "class": class(c)});
        let row = |cells: &Vec<Cell>| cells.iter().map(cell).collect::<Value>();
        json!({
            "cross": self.cross, "mode": self.mode, "dam": self.dam, "sire": self.sire,
            "eggs": gametes(&self.table.eggs), "sperm": gametes(&self.table.sperm),
            "cells": self.table.cells.iter().map(row).collect::<Value>(),
        })
    }

    /// For a person: eggs down, sperm across.
    pub(super) fn text(&self) -> String {
        let name = |g: &Gamete| format!("{} ({})", g.name, percent(g.probability));
        let head: Vec<String> =
            ["eggs \\ sperm".to_owned()].into_iter().chain(self.table.sperm.iter().map(name)).collect();
        let rows = self.table.eggs.iter().zip(&self.table.cells).map(|(egg, cells)| {
            let cell = |c: &Cell| format!("{} {}", c.genotype, class(c).unwrap_or_else(|| "does not live".to_owned()));
            [name(egg)].into_iter().chain(cells.iter().map(cell)).collect()
        });
        let head: Vec<&str> = head.iter().map(String::as_str).collect();
        let Self { cross, mode, dam, sire, .. } = self;
        format!("\nCross {cross} under {mode}: dam {dam}, sire {sire}\n{}", aligned(&head, rows.collect(), &[]))
    }
}

fn class(cell: &Cell) -> Option<String> {
    cell.class.map(|class| format!("{class:?}").to_lowercase())
}
