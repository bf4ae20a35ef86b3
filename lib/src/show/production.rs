//! Who made a show's looks, and for which day: plain text of the document's table `[production]`, which goes into what
//! leaves. Nothing in it changes a picture.

use crate::document::Document;
use crate::invalid::Invalid;
use crate::message::LONGEST_TITLE;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Who made the looks, and for which day. Every key is optional.
#[derive(Debug, Clone, PartialEq, Eq, Default, Deserialize, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Production {
    /// The production, where its name is not the show's title.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub title: Option<String>,
    /// The day of the shoot, such as day 3 of 21.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub day: Option<String>,
    /// The unit, such as main or second.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub unit: Option<String>,
    /// Who made the looks.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub author: Option<String>,
    /// How to reach them: an e-mail address, which ACES Metadata Files need beside a name, or anything else.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub contact: Option<String>,
}

impl Production {
    /// The entries that have a value, each with its name: production, day, unit, author, contact.
    pub fn lines(&self) -> Vec<(&'static str, &str)> {
        let all = [
            ("production", &self.title),
            ("day", &self.day),
            ("unit", &self.unit),
            ("author", &self.author),
            ("contact", &self.contact),
        ];
        all.into_iter().filter_map(|(name, said)| Some((name, said.as_deref()?))).collect()
    }

    /// Name and e-mail address, where both are known.
    pub fn author(&self) -> Option<[&str; 2]> {
        let address = self.contact.as_deref()?;
        let (before, after) = address.split_once('@')?;
        let whole = !before.is_empty() && !after.is_empty() && !after.contains('@') && !address.contains(' ');
        Some([self.author.as_deref()?, address]).filter(|_| whole)
    }
}

/// The table, each text of one line.
pub(super) fn read(document: &mut Document<'_>, doc: Option<&Production>) -> Production {
    let Some(doc) = doc else { return Production::default() };
    for (name, said) in doc.lines() {
        let key = format!("production.{}", if name == "production" { "title" } else { name });
        if said.trim().is_empty() {
            document.refuse(Invalid::new(key, "empty: write what it is, or leave the key out"));
        } else if said.chars().any(char::is_control) {
            document.refuse(Invalid::new(key, "must be one line of text"));
        } else if said.chars().count() > LONGEST_TITLE {
            document
                .refuse(Invalid::new(key, format!("has {} letters: {LONGEST_TITLE} at most", said.chars().count())));
        }
    }
    doc.clone()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_author_has_a_name_and_an_address() {
        let of = |author: Option<&str>, contact: Option<&str>| Production {
            author: author.map(str::to_owned),
            contact: contact.map(str::to_owned),
            ..Production::default()
        };
        assert_eq!(of(Some("Ida Marsh"), Some("ida@example.org")).author(), Some(["Ida Marsh", "ida@example.org"]));
        for (author, contact) in [
            (None, Some("ida@example.org")),
            (Some("Ida"), None),
            (Some("Ida"), Some("channel 3")),
            (Some("Ida"), Some("a@b@c")),
            (Some("Ida"), Some("@b")),
        ] {
            assert_eq!(of(author, contact).author(), None, "{contact:?}");
        }
    }
}
