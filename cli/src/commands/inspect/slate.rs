//! Where a file comes from by its slate, and whether it is still current, in words.

use crate::args::Inspect;
use crate::failure::Failure;
use crate::target;
use rushlight::inspect::report::Origin;
use rushlight::slate::Slate;

/// By the slate of a file, against the show that the arguments name.
pub(super) fn origin(slate: Option<Slate>, args: &Inspect) -> Result<Origin, Failure> {
    let show = args.show.as_deref().map(|path| target::load_show(path, &None)).transpose()?;
    Ok(Origin::of(slate, show.as_ref()))
}

/// Whether a show was asked and does not have the file as it is, or it cannot be known.
pub(super) fn is_beyond(origin: &Origin, args: &Inspect) -> bool {
    args.show.is_some() && origin.current != Some(true)
}

/// Lines of a report: a name, and what it says.
pub(super) fn fields(origin: &Origin, args: &Inspect) -> Vec<(&'static str, String)> {
    let mut fields = Vec::new();
    let (Some(version), Some(lines)) = (&origin.version, &origin.lines) else {
        if args.show.is_some() {
            fields.push(("current", "not known: the file does not say whose it is".to_owned()));
        }
        return fields;
    };
    match &origin.stale {
        Some(stale) if stale.is_empty() => fields.push(("current", "yes: as the show is now".to_owned())),
        Some(stale) => {
            for (i, why) in stale.iter().enumerate() {
                fields.push((
                    if i == 0 { "current" } else { "" },
                    if i == 0 { format!("no: {why}") } else { why.clone() },
                ));
            }
        }
        None => {}
    }
    fields.push(("slate", format!("made by rushlight {version}")));
    fields.extend(lines.iter().map(|(name, fact)| ("", format!("{name}: {}", short(fact)))));
    fields
}

/// Digits of a checksum in text; the JSON has all of them.
const DIGITS: usize = 16;

/// A fact of which a checksum at the end is cut to its first digits, so that it fits a terminal's line.
fn short(fact: &str) -> String {
    match fact.rsplit_once(" sha256 ") {
        Some((file, sum)) if sum.len() > DIGITS => format!("{file} sha256 {}...", sum.get(..DIGITS).unwrap_or(sum)),
        _ => fact.to_owned(),
    }
}
