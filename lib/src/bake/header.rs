//! The comments in a cube's file that say what it is for, read back: [`slate`](crate::slate) has the lines.

use super::manifest::MadeFor;
use crate::slate::MADE;
use std::str::FromStr;

/// Lines at the start of a file among which its comments are looked for.
const LINES: usize = 64;

/// What the comments at the start of a cube's file say of the camera and the display that it is for, if a bake wrote them.
/// They do not say what these are called in the show.
pub fn made_for(file: &[u8]) -> Option<MadeFor> {
    let lines = file.split(|b| *b == b'\n').take(LINES).filter_map(|line| std::str::from_utf8(line).ok());
    let comments: Vec<&str> = lines.filter_map(|line| line.strip_prefix("# ")).map(str::trim_end).collect();
    comments.first().filter(|first| first.starts_with(MADE))?;
    Some(MadeFor { camera: id(&comments, "camera: ")?, display: id(&comments, "display: ")?, names: None })
}

/// What stands in the last brackets of a comment: a label may have brackets too.
fn id<T: FromStr>(comments: &[&str], what: &str) -> Option<T> {
    let line = comments.iter().find_map(|line| line.strip_prefix(what))?.strip_suffix(')')?;
    line.rsplit_once(" (")?.1.parse().ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn comments_are_read_back() {
        let of = |camera: &str| {
            let text = format!(
                "# made by rushlight 0.1.0\n# show: S\n# camera: A (big) camera ({camera})\n\
                 # display: onset (bt709, bt1886, 100 nits, full range)\nTITLE \"x\"\n"
            );
            made_for(text.as_bytes())
        };
        let found = of("logc3 at EI 400, custom gamut, legal range").unwrap();
        assert_eq!(found.camera.to_string(), "logc3 at EI 400, custom gamut, legal range");
        assert_eq!((found.display.standard.as_deref(), found.display.peak), (Some("bt709"), 100.0));
        assert_eq!(found.names, None);
        assert_eq!(of("logc3"), None);
        assert_eq!(made_for(b"# made by hand\n# camera: a (slog3, sgamut3-cine, full range)\n"), None);
        assert_eq!(made_for(b"\xff\xfe"), None);
    }
}
