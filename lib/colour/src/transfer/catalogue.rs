//! The built-in encodings, by name.

use super::{
    Transfer, acescc, acescct, bt709, bt1886, canon_log, dlog, flog, gamma, hlg, linear, llog, log3g10, logc3, logc4,
    nlog, pq, slog2, slog3, srgb, vlog,
};
use crate::invalid::Invalid;
use Make::{Fixed, Rated};
use std::sync::Arc;

/// What the light of an encoding is measured in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Light {
    /// Scene reflectance: 0.18 is mid-grey, 1 a perfect diffuser; without upper bound.
    SceneReflectance,
    /// Scene light in which 1 is the light that gives signal 1.
    SceneFraction,
    /// Display light in nits (cd/m2), absolute.
    Nits,
    /// Display light in which 1 is the display's white.
    FractionOfWhite,
}

/// What an encoding is for, and so where it is offered.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Role {
    /// The signal of a camera.
    Camera,
    /// A space to work in.
    Working,
    /// The signal of a display.
    Display,
}

/// A built-in encoding.
#[derive(Debug, Clone, Copy)]
pub struct Encoding {
    /// The name in documents and on the command line.
    pub name: &'static str,
    /// The name in its own document.
    pub title: &'static str,
    /// The document, with number or version and year.
    pub source: &'static str,
    /// What light is measured in.
    pub light: Light,
    /// What it is for.
    pub role: Role,
    /// The convention of the signal, in one line.
    pub signal: &'static str,
    /// The exposure indices (EI) that have constants of their own; empty where the curve is the same at every EI.
    pub ratings: &'static [u32],
    /// The EI that is built where none is asked for.
    pub base_rating: Option<u32>,
    make: Make,
}

#[derive(Debug, Clone, Copy)]
enum Make {
    Fixed(fn() -> Arc<dyn Transfer>),
    /// `None` for an EI that is not in `ratings`.
    Rated(fn(u32) -> Option<Arc<dyn Transfer>>),
}

impl Encoding {
    /// The curve; of an encoding with constants by exposure index, at [`base_rating`](Self::base_rating).
    pub fn curve(&self) -> Arc<dyn Transfer> {
        self.build(None).expect("an encoding has a curve at its base rating")
    }

    /// The curve, at `ei` where the encoding has constants by exposure index; [`base_rating`](Self::base_rating) where
    /// `ei` is `None`.
    ///
    /// # Errors
    /// Key `ei`: an EI for a curve that has none, or one that is not in [`ratings`](Self::ratings).
    pub fn build(&self, ei: Option<u32>) -> Result<Arc<dyn Transfer>, Invalid> {
        let Self { name, ratings, .. } = self;
        match (self.make, ei.or(self.base_rating)) {
            (Fixed(_), Some(ei)) => {
                Err(Invalid::new("ei", format!("{name} is the same curve at every EI: remove the EI ({ei})")))
            }
            (Fixed(make), None) => Ok(make()),
            (Rated(make), ei) => ei.and_then(make).ok_or_else(|| {
                let list: Vec<String> = ratings.iter().map(u32::to_string).collect();
                let asked = ei.map_or_else(|| "no EI".to_owned(), |ei| format!("EI {ei}"));
                Invalid::new(
                    "ei",
                    format!("{name} is not published for {asked}: it must be one of {}", list.join(", ")),
                )
            }),
        }
    }
}

/// The built-in encodings: cameras, working spaces, displays.
pub fn encodings() -> &'static [Encoding] {
    &ENCODINGS
}

/// The encoding of that name, exactly as written in [`Encoding::name`].
pub fn encoding(name: &str) -> Option<&'static Encoding> {
    ENCODINGS.iter().find(|encoding| encoding.name == name)
}

const CODE: &str = "code value / 1023, full range";
const CODE_FROM_LEGAL: &str = "code value / 1023, full range; converted from the document's fraction of legal range";
const CODE_FROM_WHITE: &str = "code value / 1023, full range; the document's input is reflectance / 0.9, converted";
const ACADEMY: &str = "the Academy's float value; below 0 and above 1 are legal";
const UNIT: &str = "0 to 1, black to white";

const fn camera(
    name: &'static str,
    title: &'static str,
    source: &'static str,
    signal: &'static str,
    make: Make,
) -> Encoding {
    Encoding {
        name,
        title,
        source,
        light: Light::SceneReflectance,
        role: Role::Camera,
        signal,
        ratings: &[],
        base_rating: None,
        make,
    }
}

const fn working(
    name: &'static str,
    title: &'static str,
    source: &'static str,
    signal: &'static str,
    make: Make,
) -> Encoding {
    Encoding { role: Role::Working, ..camera(name, title, source, signal, make) }
}

const fn display(name: &'static str, title: &'static str, source: &'static str, light: Light, make: Make) -> Encoding {
    Encoding { role: Role::Display, light, ..camera(name, title, source, UNIT, make) }
}

/// ACEScc: Academy S-2014-003.
pub const ACESCC: Encoding =
    working("acescc", "ACEScc", "Academy S-2014-003", ACADEMY, Fixed(|| Arc::new(acescc::AcesCc)));

/// ACEScct: Academy S-2016-001.
pub const ACESCCT: Encoding =
    working("acescct", "ACEScct", "Academy S-2016-001", ACADEMY, Fixed(|| Arc::new(acescct::ACES_CCT)));

/// LogC3: ARRI, ALEXA Log C Curve, Usage in VFX (SUP 3.x), 2012.
pub const LOGC3: Encoding = Encoding {
    ratings: &logc3::RATINGS,
    base_rating: Some(logc3::BASE_RATING),
    ..camera(
        "logc3",
        "LogC3",
        "ARRI, ALEXA Log C Curve, Usage in VFX (SUP 3.x), 2012",
        CODE,
        Rated(|ei| Some(Arc::new(logc3::log_c3(ei)?))),
    )
};

/// LogC4: ARRI LogC4 Logarithmic Color Space Specification, 2022.
pub const LOGC4: Encoding = camera(
    "logc4",
    "LogC4",
    "ARRI LogC4 Logarithmic Color Space Specification, 2022",
    CODE,
    Fixed(|| Arc::new(logc4::log_c4())),
);

/// S-Log2: Sony, S-Log2 Technical Paper, V1.0, 2012.
pub const SLOG2: Encoding = camera(
    "slog2",
    "S-Log2",
    "Sony, S-Log2 Technical Paper, V1.0, 2012",
    CODE_FROM_LEGAL,
    Fixed(|| Arc::new(slog2::S_LOG2)),
);

/// S-Log3: Sony, Technical Summary for S-Gamut3.Cine/S-Log3, V1.00, 2014.
pub const SLOG3: Encoding = camera(
    "slog3",
    "S-Log3",
    "Sony, Technical Summary for S-Gamut3.Cine/S-Log3, V1.00, 2014",
    CODE,
    Fixed(|| Arc::new(slog3::S_LOG3)),
);

/// V-Log: Panasonic, V-Log/V-Gamut Reference Manual, Rev. 1.0, 2014.
pub const VLOG: Encoding = camera(
    "vlog",
    "V-Log",
    "Panasonic, V-Log/V-Gamut Reference Manual, Rev. 1.0, 2014",
    CODE,
    Fixed(|| Arc::new(vlog::V_LOG)),
);

/// Canon Log: Canon, Input Transform Version 202007 (v1.2).
pub const CANON_LOG: Encoding = camera(
    "canon-log",
    "Canon Log",
    "Canon, Input Transform Version 202007 (v1.2)",
    CODE_FROM_WHITE,
    Fixed(|| Arc::new(canon_log::CANON_LOG)),
);

/// Canon Log 2: Canon, Input Transform Version 202007 (v1.2).
pub const CANON_LOG2: Encoding = camera(
    "canon-log2",
    "Canon Log 2",
    "Canon, Input Transform Version 202007 (v1.2)",
    CODE_FROM_WHITE,
    Fixed(|| Arc::new(canon_log::CANON_LOG2)),
);

/// Canon Log 3: Canon, Input Transform Version 202007 (v1.2).
pub const CANON_LOG3: Encoding = camera(
    "canon-log3",
    "Canon Log 3",
    "Canon, Input Transform Version 202007 (v1.2)",
    CODE_FROM_WHITE,
    Fixed(|| Arc::new(canon_log::CanonLog3)),
);

/// N-Log: Nikon, N-Log Specification Document, Version 1.0.0, 2018.
pub const NLOG: Encoding = camera(
    "nlog",
    "N-Log",
    "Nikon, N-Log Specification Document, Version 1.0.0, 2018",
    CODE,
    Fixed(|| Arc::new(nlog::NLog)),
);

/// F-Log: Fujifilm, F-Log Data Sheet, Ver. 1.1, 2022.
pub const FLOG: Encoding =
    camera("flog", "F-Log", "Fujifilm, F-Log Data Sheet, Ver. 1.1, 2022", CODE, Fixed(|| Arc::new(flog::F_LOG)));

/// F-Log2: Fujifilm, F-Log2 Data Sheet, Ver. 1.0, 2022.
pub const FLOG2: Encoding =
    camera("flog2", "F-Log2", "Fujifilm, F-Log2 Data Sheet, Ver. 1.0, 2022", CODE, Fixed(|| Arc::new(flog::F_LOG2)));

/// Log3G10: RED, White Paper on REDWideGamutRGB and Log3G10, 2017.
pub const LOG3G10: Encoding = camera(
    "log3g10",
    "Log3G10",
    "RED, White Paper on REDWideGamutRGB and Log3G10, 2017",
    CODE,
    Fixed(|| Arc::new(log3g10::LOG3G10)),
);

/// L-Log: Leica, L-Log Reference Manual, 2021.
pub const LLOG: Encoding =
    camera("llog", "L-Log", "Leica, L-Log Reference Manual, 2021", CODE, Fixed(|| Arc::new(llog::L_LOG)));

/// D-Log: DJI, White Paper on D-Log and D-Gamut, 2017.
pub const DLOG: Encoding =
    camera("dlog", "D-Log", "DJI, White Paper on D-Log and D-Gamut, 2017", CODE, Fixed(|| Arc::new(dlog::DLog)));

/// Linear: no encoding.
pub const LINEAR: Encoding =
    working("linear", "Linear", "no encoding", "the light itself", Fixed(|| Arc::new(linear::Linear)));

/// BT.1886: ITU-R BT.1886, 2011, Annex 1.
pub const BT1886: Encoding = display(
    "bt1886",
    "BT.1886",
    "ITU-R BT.1886, 2011, Annex 1",
    Light::FractionOfWhite,
    Fixed(|| Arc::new(bt1886::Bt1886::default())),
);

/// sRGB: IEC 61966-2-1:1999.
pub const SRGB: Encoding =
    display("srgb", "sRGB", "IEC 61966-2-1:1999", Light::FractionOfWhite, Fixed(|| Arc::new(srgb::Srgb)));

/// Gamma 2.2: a pure power.
pub const GAMMA22: Encoding =
    display("gamma22", "Gamma 2.2", "a pure power", Light::FractionOfWhite, Fixed(|| Arc::new(gamma::GAMMA22)));

/// Gamma 2.4: a pure power.
pub const GAMMA24: Encoding =
    display("gamma24", "Gamma 2.4", "a pure power", Light::FractionOfWhite, Fixed(|| Arc::new(gamma::GAMMA24)));

/// Gamma 2.6: SMPTE RP 431-2:2011.
pub const GAMMA26: Encoding =
    display("gamma26", "Gamma 2.6", "SMPTE RP 431-2:2011", Light::FractionOfWhite, Fixed(|| Arc::new(gamma::GAMMA26)));

/// PQ: ITU-R BT.2100-2, 2018, Table 4.
pub const PQ: Encoding =
    display("pq", "PQ", "ITU-R BT.2100-2, 2018, Table 4", Light::Nits, Fixed(|| Arc::new(pq::Pq::new())));

/// HLG: ITU-R BT.2100-2, 2018, Table 5.
pub const HLG: Encoding =
    display("hlg", "HLG", "ITU-R BT.2100-2, 2018, Table 5", Light::SceneFraction, Fixed(|| Arc::new(hlg::Hlg)));

/// BT.709 OETF: ITU-R BT.709-6, 2015, item 1.2.
pub const BT709_OETF: Encoding = display(
    "bt709-oetf",
    "BT.709 OETF",
    "ITU-R BT.709-6, 2015, item 1.2",
    Light::SceneFraction,
    Fixed(|| Arc::new(bt709::Bt709::new())),
);

static ENCODINGS: [Encoding; 25] = [
    ACESCC, ACESCCT, LOGC3, LOGC4, SLOG2, SLOG3, VLOG, CANON_LOG, CANON_LOG2, CANON_LOG3, NLOG, FLOG, FLOG2, LOG3G10,
    LLOG, DLOG, LINEAR, BT1886, SRGB, GAMMA22, GAMMA24, GAMMA26, PQ, HLG, BT709_OETF,
];
