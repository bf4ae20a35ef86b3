//! What a cube is of, for the table in the binder.

use crate::slate::Slate;
use schemars::JsonSchema;
use serde::Serialize;

/// What a cube is of, as its slate says; what the slate does not say is none.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Origin {
    /// The show's title.
    pub show: Option<String>,
    /// The look's title.
    pub look: Option<String>,
    /// The look's revision.
    pub revision: Option<String>,
    /// The camera.
    pub camera: Option<String>,
    /// The display.
    pub display: Option<String>,
}

impl Origin {
    /// By a slate.
    pub fn of(slate: &Slate) -> Self {
        let said = |name: &str| slate.get(name).map(str::to_owned);
        let look = slate.get("look").map(|look| look.rsplit_once(", revision ").unwrap_or((look, "")));
        let revision = look.map(|(_, rest)| rest.split(',').next().unwrap_or_default());
        Self {
            show: said("show"),
            look: look.map(|(title, _)| title.to_owned()),
            revision: revision.filter(|r| !r.is_empty()).map(str::to_owned),
            camera: said("camera"),
            display: said("display"),
        }
    }

    /// In one line; empty where nothing is known.
    pub fn line(&self) -> String {
        let Self { show, look, revision, camera, display } = self;
        let named = [("look", look), ("revision", revision), ("camera", camera), ("display", display)];
        let rest = named.into_iter().filter_map(|(name, said)| Some(format!("{name}: {}", said.as_ref()?)));
        show.iter().cloned().chain(rest).collect::<Vec<_>>().join("; ")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slate_is_taken_apart() {
        let text = "# made by rushlight 1.0.0\n# show: Saltmarsh\n# look: Night, two, revision 3, picture of generation 1\n\
                    # camera: S-Log3 (a)\n# display: On set (onset)\n";
        let origin = Origin::of(&Slate::parse(text).unwrap());
        assert_eq!(origin.revision.as_deref(), Some("3"));
        assert_eq!(
            origin.line(),
            "Saltmarsh; look: Night, two; revision: 3; camera: S-Log3 (a); display: On set (onset)"
        );
        let none = Origin::of(&Slate::parse("made by rushlight 1.0.0\n").unwrap());
        assert_eq!((none.line(), none), (String::new(), Origin::default()));
    }
}
