//! S-Log2: Sony, "S-Log2 Technical Paper", V1.0, 2012.
//!
//! Light: scene reflectance, 0.18 is mid-grey; the paper's own input is reflectance / 0.9. Signal: code value / 1023,
//! full range; the paper's own output is a fraction of the legal range (0 is code 64, 1 is code 940). Both are
//! converted here. The paper's table: 0, 18 and 90 % are codes 90, 347 and 582.

use super::segment::{LogBase, LogOverLine, LogSegment, from_legal};

/// Constants of the paper. 155/219 is the gain that S-Log2 has over S-Log.
mod constants {
    pub(super) const GAIN: f64 = 155.0 / 219.0 / 0.9;
    pub(super) const SLOPE: f64 = 0.432699;
    pub(super) const OFFSET: f64 = 0.037584;
    pub(super) const SIGNAL_OFFSET: f64 = 0.616596 + 0.03;
    pub(super) const LINE: f64 = 5.0;
    pub(super) const BLACK: f64 = 0.030001222851889303;
}
use constants::{BLACK, GAIN, LINE, OFFSET, SIGNAL_OFFSET, SLOPE};

/// S-Log2. The logarithm begins at zero light, in signal at the paper's 0.0300012 (code 90.28); below it the paper's
/// line goes on.
pub const S_LOG2: LogOverLine = LogOverLine {
    log: LogSegment {
        base: LogBase::Ten,
        slope: 876.0 * SLOPE / 1023.0,
        gain: GAIN,
        offset: OFFSET,
        signal_offset: from_legal(SIGNAL_OFFSET),
    },
    line_slope: 876.0 * LINE * GAIN / 1023.0,
    line_offset: from_legal(BLACK),
    from_light: 0.0,
    from_signal: from_legal(BLACK),
};
