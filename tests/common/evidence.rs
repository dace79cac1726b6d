//! Evidence written as short text, for tests.

use broodhue::inherit::{Breeder, Brood, Class, Counts, EarlierSire, Evidence, Mating, Origin, Sex};

fn class(word: &str) -> Option<Class> {
    match word {
        "other" => Some(Class::Other),
        "middle" => Some(Class::Middle),
        "target" => Some(Class::Target),
        _ => None,
    }
}

/// `17/0` (other/target) or `10/5/4` (other/middle/target).
fn row(text: &str) -> [u32; 3] {
    let n: Vec<u32> = text.split('/').map(|n| n.parse().unwrap()).collect();
    if n.len() == 2 { [n[0], 0, n[1]] } else { [n[0], n[1], n[2]] }
}

/// Evidence from lines of two kinds.
///
/// `fish NAME f|m BROOD|founder other|middle|target|- [pure]` and
/// `brood NAME CROSS SIRE DAM[+DAM…] [earlier=FISH|?[+…]] [free=DAM] [f=o/t] [m=o/t] [u=o/t]`; `SIRE` may be `S1+S2`, one a dam, and so
/// may the earlier sire; a dam is `free` of his sperm.
pub(crate) fn evidence(text: &str) -> Evidence {
    let lines: Vec<Vec<&str>> = text.lines().map(|l| l.split_whitespace().collect()).collect();
    let of = |kind: &'static str| lines.iter().filter(move |l| l.first() == Some(&kind));
    let names: Vec<&str> = of("fish").map(|l| l[1]).collect();
    let broods: Vec<&str> = of("brood").map(|l| l[1]).collect();
    let index = |name: &str| names.iter().position(|n| *n == name).unwrap();
    let breeders = of("fish")
        .map(|l| Breeder {
            fish: l[1].to_owned(),
            sex: if l[2] == "f" { Sex::Female } else { Sex::Male },
            class: class(l[4]),
            pure: l.get(5) == Some(&"pure"),
            origin: broods.iter().position(|b| *b == l[3]).map_or(Origin::Founder, Origin::Brood),
        })
        .collect();
    let male = |name: &str| match name {
        "?" => EarlierSire::Unknown,
        fish => EarlierSire::Known(index(fish)),
    };
    let brood = |l: &Vec<&str>| {
        let sires: Vec<usize> = l[3].split('+').map(index).collect();
        let dams: Vec<usize> = l[4].split('+').map(index).collect();
        let option = |key: &str| l[5..].iter().find_map(|w| w.strip_prefix(key));
        let earlier: Vec<EarlierSire> =
            option("earlier=").into_iter().flat_map(|all| all.split('+')).map(male).collect();
        let counted = |key: &str| option(key).map_or([0; 3], row);
        Brood {
            name: l[1].to_owned(),
            label: l[1].to_owned(),
            cross: l[2].to_owned(),
            parents: (dams.iter().enumerate())
                .map(|(i, dam)| Mating { sire: sires[i.min(sires.len() - 1)], dam: *dam })
                .collect(),
            stored: (dams.iter().enumerate())
                .filter(|(_, dam)| Some(**dam) != option("free=").map(index))
                .filter_map(|(i, dam)| Some((*dam, *earlier.get(i.min(earlier.len().checked_sub(1)?))?)))
                .collect(),
            young: None,
            counts: Counts { female: counted("f="), male: counted("m="), unsexed: counted("u=") },
        }
    };
    let middle = text.contains("middle").then(|| "middle".to_owned());
    Evidence {
        axis: "red-body".into(),
        target: "absent".into(),
        middle,
        breeders,
        broods: of("brood").map(brood).collect(),
    }
}
