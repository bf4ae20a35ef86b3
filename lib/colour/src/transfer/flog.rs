//! F-Log: Fujifilm, "F-Log Data Sheet", Ver. 1.1, 2022. F-Log2: Fujifilm, "F-Log2 Data Sheet", Ver. 1.0, 2022.
//!
//! Light: scene reflectance, 0.18 is mid-grey. Signal: code value / 1023, full range.

use super::segment::{LogBase, LogOverLine, LogSegment};

/// F-Log. The line goes on below zero. The pieces miss each other by -0.10 code value of 10 bits.
pub const F_LOG: LogOverLine = LogOverLine {
    log: LogSegment { base: LogBase::Ten, slope: 0.344676, gain: 0.555556, offset: 0.009468, signal_offset: 0.790453 },
    line_slope: 8.735631,
    line_offset: 0.092864,
    from_light: 0.00089,
    from_signal: 0.100537775223865,
};

/// F-Log2. The line goes on below zero. The pieces miss each other by -4e-5 code value of 10 bits.
pub const F_LOG2: LogOverLine = LogOverLine {
    log: LogSegment { base: LogBase::Ten, slope: 0.245281, gain: 5.555556, offset: 0.064829, signal_offset: 0.384316 },
    line_slope: 8.799461,
    line_offset: 0.092864,
    from_light: 0.000889,
    from_signal: 0.100686685370811,
};
