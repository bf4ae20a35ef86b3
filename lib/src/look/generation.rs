//! The generation of the picture: what a look states of the program that it was made with, so that an update of the
//! program never changes a show's picture unsaid.

use super::GENERATION;
use crate::document::Document;
use crate::invalid::Invalid;

/// The generation of looks that do not state one: they were written before looks did.
pub const FIRST_GENERATION: u32 = 1;

/// Checks what a look's document states, `None` where it states none. `false` where it states another generation: what
/// else would be found in it is then no fault of its author.
pub(crate) fn check(document: &mut Document<'_>, stated: Option<u32>) -> bool {
    const KEY: &str = "generation";
    if document.is_wrong_within(KEY) || stated == Some(GENERATION) {
        return true;
    }
    let message = match stated {
        Some(0) => format!("must be {GENERATION}, the generation of the picture that this program makes"),
        Some(later) if later > GENERATION => format!(
            "this look was written for generation {later} of the picture, this program makes generation {GENERATION}: its \
             colours would change. Use the version of the program that the look was made with, or a later one"
        ),
        Some(earlier) => format!(
            "this look was written for generation {earlier} of the picture, this program makes generation {GENERATION}: its \
             colours would change, as the changelog says. Set `generation = {GENERATION}` in a copy, bake it, and compare its \
             cubes with the old ones (`rushlight diff`) before you shoot with it"
        ),
        None => format!(
            "missing key `generation`: without it a look is of generation {FIRST_GENERATION} of the picture, and this program \
             makes generation {GENERATION}. A new look: set `generation = {GENERATION}`. An older one: its colours would \
             change, as the changelog says; set it in a copy, bake that, and compare its cubes with the old ones (`rushlight \
             diff`) before you shoot with it"
        ),
    };
    document.refuse(Invalid::new(KEY, message));
    stated.is_none()
}
