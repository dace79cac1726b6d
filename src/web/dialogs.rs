//! The help sheet and the question that setting a fish aside asks.

use maud::{Markup, html};

const KEYS: [(&str, &str); 17] = [
    ("↓ ↑", "next, previous fish"),
    ("← →", "next, previous axis of this fish"),
    ("Enter", "accept all proposals of this fish and go on"),
    ("1 … 9", "choose the class with this number on the underlined axis"),
    ("m f", "male, female"),
    ("x", "set aside, with a reason; bring back"),
    ("u", "undo your last decision in this brood, as often as you like, also those of earlier days"),
    ("a", "accept everything at or above the stated confidence"),
    ("c", "side by side: first fish A, then fish B, also on another page"),
    ("s", "split this outline"),
    ("j", "join this outline with another"),
    ("z", "zoom to this fish"),
    ("+ - 0", "nearer, farther, whole tray"),
    ("← ↑ → ↓ Enter", "while mending: move the cross (Shift: in small steps), set a point"),
    ("Esc", "give up what was begun in the photo"),
    ("?", "this sheet"),
    ("Tab", "from button to button, as everywhere"),
];

/// All dialogs of the brood view.
pub(super) fn all() -> Markup {
    html! {
        dialog id="help" aria-labelledby="help-title" {
            // Opened at its head, not at its first control far below.
            h2 id="help-title" tabindex="-1" autofocus { "Keys" }
            table { tbody { @for (key, what) in KEYS { tr { th scope="row" { kbd { (key) } } td { (what) } } } } }
            p { label { input id="keys-on" type="checkbox" checked; " Single keys work" } }
            p { "■ confirmed by a person · ○ proposed by the sheet · ◇ undecided · ▬ set aside" }
            p { "In the photo: drag to move, wheel or two fingers to zoom, tap a fish to go to its line." }
            button data-do="close" { "Close" }
        }
        dialog id="aside" aria-labelledby="aside-title" {
            form {
                h2 id="aside-title" { "Set fish " span id="aside-fish" {} " aside" }
                p { label for="aside-why" { "Why? It stays on record and can be brought back." } }
                p { input id="aside-why" required list="aside-reasons" autocomplete="off"; }
                datalist id="aside-reasons" {
                    option value="not of this brood" {}
                    option value="counted twice" {}
                    option value="deformed" {}
                    option value="not a fish" {}
                }
                button.main type="submit" { "Set aside" }
                " "
                button type="button" data-do="close" { "Leave it" }
            }
        }
    }
}
