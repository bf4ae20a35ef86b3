//! Whose a file is, by its slate, and whether it is still current.

use crate::args::Inspect;
use crate::failure::Failure;
use crate::target;
use rushlight::slate::Slate;
use serde_json::{Value, json};

/// What the slate of a file comes to.
pub(super) struct Whose {
    slate: Option<Slate>,
    /// What is not as in the show; none where no show was asked for, or nothing is known.
    stale: Option<Vec<String>>,
}

impl Whose {
    pub(super) fn of(slate: Option<Slate>, args: &Inspect) -> Result<Self, Failure> {
        let Some(path) = &args.show else { return Ok(Self { slate, stale: None }) };
        let show = target::load_show(path, &None)?;
        let stale = slate.as_ref().map(|slate| slate.stale(&show));
        Ok(Self { slate, stale })
    }

    /// Whether the file has no slate.
    pub(super) const fn is_unknown(&self) -> bool {
        self.slate.is_none()
    }

    /// Whether a show was asked about and does not have the file as it is, or it cannot be known.
    pub(super) fn is_beyond(&self, args: &Inspect) -> bool {
        args.show.is_some() && self.stale.as_ref().is_none_or(|stale| !stale.is_empty())
    }

    /// Lines of a report: a name, and its value.
    pub(super) fn fields(&self, args: &Inspect) -> Vec<(&'static str, String)> {
        let mut fields = Vec::new();
        let Some(slate) = &self.slate else {
            if args.show.is_some() {
                fields.push(("current", "not known: the file does not say whose it is".to_owned()));
            }
            return fields;
        };
        match &self.stale {
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
        fields.push(("slate", format!("made by rushlight {}", slate.version)));
        fields.extend(slate.lines.iter().map(|(name, said)| ("", format!("{name}: {}", short(said)))));
        fields
    }

    pub(super) fn json(&self) -> Value {
        let lines = |slate: &Slate| slate.lines.iter().map(|(name, said)| json!([name, said])).collect::<Vec<_>>();
        json!({
            "version": self.slate.as_ref().map(|slate| &slate.version),
            "lines": self.slate.as_ref().map(lines),
            "current": self.stale.as_ref().map(Vec::is_empty),
            "stale": self.stale,
        })
    }
}

/// Digits of a checksum in text; the JSON has all of them.
const DIGITS: usize = 16;

/// A fact of which a checksum at the end is cut to its first digits, so that it fits a terminal's line.
fn short(said: &str) -> String {
    match said.rsplit_once(" sha256 ") {
        Some((file, sum)) if sum.len() > DIGITS => format!("{file} sha256 {}...", sum.get(..DIGITS).unwrap_or(sum)),
        _ => said.to_owned(),
    }
}
