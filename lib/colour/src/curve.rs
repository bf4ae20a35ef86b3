//! The built-in encodings as constants, for programs that name none by text.
//!
//! ```
//! use rushlight_colour::curve;
//!
//! let grey = curve::SLOG3.curve().encode(0.18) * 1023.0;
//! assert!((grey - 420.0).abs() < 1e-9);
//! ```

pub use crate::transfer::catalogue::{
    ACESCC, ACESCCT, BT709_OETF, BT1886, CANON_LOG, CANON_LOG2, CANON_LOG3, DLOG, FLOG, FLOG2, GAMMA22, GAMMA24,
    GAMMA26, HLG, LINEAR, LLOG, LOG3G10, LOGC3, LOGC4, NLOG, PQ, SLOG2, SLOG3, SRGB, VLOG,
};
