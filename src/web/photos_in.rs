//! The fields by which photos come in, on the first page and on the phone's.

use maud::{Markup, html};

use crate::cautions;

/// Brood, day and files with a hint, what became of each file, and the cautions for fish that wait in a tray. No brood is chosen beforehand: a photo
/// that goes to a wrong one takes the place of its sitting in the counts.
pub(super) fn fields<'a>(broods: impl Iterator<Item = &'a str>, hint: &str) -> Markup {
    html! {
        p.fields {
            span {
                label for="upload-brood" { "Brood " }
                select id="upload-brood" required {
                    option value="" selected { "which brood?" }
                    @for brood in broods { option value=(brood) { (brood) } }
                }
            }
            " "
            span {
                label for="upload-day" { "Day of the sitting " }
                input id="upload-day" type="date" aria-describedby="upload-day-help";
            }
            " "
            label { "Photos " input type="file" accept="image/*" multiple; }
        }
        p.quiet { span id="upload-day-help" { "Without a day it is the one on which the photo was taken, else today." } " " (hint) }
        div role="status" aria-live="polite" { ul id="uploads" {} }
        p.quiet.cautions { (cautions::TRAY) " " (cautions::ELECTRICITY) " " (cautions::VET) }
    }
}
