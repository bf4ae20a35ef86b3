//! Shots with corrections, for the show of [`scene`](crate::scene).

use crate::scene::{SHOW, put, saltmarsh};
use tempfile::TempDir;

/// A collection of two corrections.
pub const DAY: &str = r#"<?xml version="1.0" encoding="UTF-8"?>
<ColorCorrectionCollection xmlns="urn:ASC:CDL:v1.2">
  <Description>day 3</Description>
  <ColorCorrection id="12A-3">
    <SOPNode>
      <Slope>1.1 1 0.9</Slope>
      <Offset>0.01 0 -0.02</Offset>
      <Power>1 1 1.2</Power>
    </SOPNode>
    <SatNode>
      <Saturation>0.9</Saturation>
    </SatNode>
  </ColorCorrection>
  <ColorCorrection id="none">
    <SOPNode>
      <Slope>1 1 1</Slope>
      <Offset>0 0 0</Offset>
      <Power>1 1 1</Power>
    </SOPNode>
    <SatNode>
      <Saturation>1</Saturation>
    </SatNode>
  </ColorCorrection>
</ColorCorrectionCollection>
"#;
/// A list of editing with one correction in two rows.
pub const LIST: &str = "Heading\nFIELD_DELIM\tTABS\n\nColumn\nName\tTape\tASC_SOP\tASC_SAT\n\nData\n\
    31-2\tB004\t(1 1 1.02)(0 0 0.004)(1 1 1)\t1.1\n31-4\tB004\t\t\n";
/// Shots of both.
pub const SHOTS: &str = r#"
[cdl]
files = ["cdl/day3.ccc"]

[[shots]]
name = "12A-3"
look = "night"
camera = "a"

[[shots]]
name = "12A-4"
id = "none"
look = "night"
camera = "a"

[[shots]]
list = "cdl/day3.ale"
look = "plain"
"#;

/// The show of [`scene`](crate::scene) with shots; `change` may rewrite their tables.
pub fn shots(change: impl Fn(String) -> String) -> TempDir {
    let dir = saltmarsh();
    put(dir.path(), "cdl/day3.ccc", DAY);
    put(dir.path(), "cdl/day3.ale", LIST);
    put(dir.path(), "show.toml", &format!("{SHOW}{}", change(SHOTS.to_owned())));
    dir
}
