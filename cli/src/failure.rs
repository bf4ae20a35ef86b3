//! Why a command could not run.

use crate::text::{COLUMNS, clean, wrap};
use miette::{Diagnostic, GraphicalReportHandler, LabeledSpan, NamedSource, SourceCode};
use rushlight::document::{Problem, Problems};
use rushlight::frame::FrameError;
use rushlight::invalid::{Invalid, Refusals};
use std::fmt;
use std::io::{IsTerminal, Write};
use std::path::Path;

/// The exit code of a command that ran and found a limit exceeded, a departure or a difference.
pub(crate) const BEYOND: u8 = 1;
/// The exit code of a command that could not run.
pub(crate) const COULD_NOT_RUN: u8 = 2;

/// Why a command could not run.
#[derive(Debug)]
pub(crate) enum Failure {
    /// Problems of documents.
    Documents(Vec<Problems>),
    /// Anything else, in words.
    Words(String),
}

impl Failure {
    pub(crate) fn new(words: impl Into<String>) -> Self {
        Self::Words(words.into())
    }

    /// Values that a type refused, of the command line option of the same name: only for what came from options.
    pub(crate) fn options(refused: impl Into<Refusals>) -> Self {
        Self::Words(refused.into().iter().map(|r| format!("--{r}")).collect::<Vec<_>>().join("\n"))
    }

    /// A picture that cannot be read.
    pub(crate) fn picture(path: &Path, error: &FrameError) -> Self {
        let more = if matches!(error, FrameError::Limit(_)) { " (--max-memory)" } else { "" };
        Self::new(format!("cannot read {}: {error}{more}", path.display()))
    }

    /// The failure in words, a line a problem.
    pub(crate) fn words(&self) -> String {
        match self {
            Self::Words(words) => words.clone(),
            Self::Documents(documents) => documents.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n"),
        }
    }

    /// What a look of a show gets wrong on a display, as its path is compiled.
    pub(crate) fn of_path(look: &str, display: &str, refused: impl Into<Refusals>) -> Self {
        let line = |r: &Invalid| format!("look {look} on display {display}: {r}");
        Self::Words(refused.into().iter().map(line).collect::<Vec<_>>().join("\n"))
    }

    /// Values that a type refused, as they are.
    pub(crate) fn refused(refused: Refusals) -> Self {
        Self::Words(refused.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n"))
    }

    /// Prints the failure to standard error: with the lines that it concerns where that is a terminal, a line a problem
    /// where it is not.
    pub(crate) fn report(&self) {
        let mut stderr = std::io::stderr().lock();
        let text = match self {
            Self::Words(words) if stderr.is_terminal() => {
                wrap(&clean(&format!("error: {words}")), COLUMNS).join("\n") + "\n"
            }
            Self::Words(words) => clean(&format!("error: {words}\n")).into_owned(),
            Self::Documents(documents) if stderr.is_terminal() => documents.iter().map(pictured).collect(),
            Self::Documents(documents) => documents
                .iter()
                .flat_map(|d| clean(&d.to_string()).lines().map(|l| format!("error: {l}\n")).collect::<Vec<_>>())
                .collect(),
        };
        // There is no place for it where standard error is closed.
        let _ = stderr.write_all(text.as_bytes());
    }
}

/// Choices that a comparison can be asked for by an option.
const CHOICES: [&str; 4] = ["look", "camera", "display", "show"];

impl From<rushlight::diff::Error> for Failure {
    fn from(error: rushlight::diff::Error) -> Self {
        match error {
            rushlight::diff::Error::Documents(documents) => Self::Documents(documents),
            rushlight::diff::Error::Standing { look } => Self::new(format!(
                "{look} is a look without a show: no show.toml in its folder or a parent folder lists it: give --show, or a \
                 camera and a display, such as --camera slog3+sgamut3-cine --display bt709"
            )),
            rushlight::diff::Error::Refused(refused) => {
                let line = |r: &Invalid| if CHOICES.contains(&&*r.key) { format!("--{r}") } else { r.to_string() };
                Self::Words(refused.iter().map(line).collect::<Vec<_>>().join("\n"))
            }
            other => Self::new(other.to_string()),
        }
    }
}

impl From<std::io::Error> for Failure {
    fn from(error: std::io::Error) -> Self {
        Self::new(error.to_string())
    }
}

/// Every problem of one document with the line that it concerns.
fn pictured(problems: &Problems) -> String {
    // The places stay: what is cleaned has as many bytes.
    let source = NamedSource::new(clean(&problems.name), clean(&problems.text).into_owned());
    let mut text = String::new();
    for problem in &problems.list {
        let shown = Shown { problem, source: &source };
        if GraphicalReportHandler::new().with_width(COLUMNS).render_report(&mut text, &shown).is_err() {
            text.push_str(&clean(&problem.words()));
        }
    }
    text
}

struct Shown<'p> {
    problem: &'p Problem,
    source: &'p NamedSource<String>,
}

impl fmt::Debug for Shown<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:?}", self.problem)
    }
}

impl fmt::Display for Shown<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&clean(&self.problem.words()))
    }
}

impl std::error::Error for Shown<'_> {}

impl Diagnostic for Shown<'_> {
    fn source_code(&self) -> Option<&dyn SourceCode> {
        Some(self.source)
    }

    fn labels(&self) -> Option<Box<dyn Iterator<Item = LabeledSpan> + '_>> {
        let span = &self.problem.span;
        Some(Box::new(std::iter::once(LabeledSpan::new(None, span.start, span.len()))))
    }
}
