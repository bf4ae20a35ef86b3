//! The built-in gamuts, each with the document of its primaries.

use super::{AP1, BT709, BT2020, Gamut, P3_D65, P3_DCI, XYZ, xy3};
use crate::adaptation::Adaptation;
use crate::chromaticity::{ACES, D65};

/// ACES AP0 (SMPTE ST 2065-1:2021).
pub const AP0: Gamut = Gamut {
    primaries: xy3([0.7347, 0.2653], [0.0, 1.0], [0.0001, -0.077]),
    white: ACES,
    adaptation: Adaptation::Bradford,
};

/// S-Gamut (S-Gamut technical summary, Sony (2012)).
pub const SGAMUT: Gamut = Gamut {
    primaries: xy3([0.730, 0.280], [0.140, 0.855], [0.100, -0.050]),
    white: D65,
    adaptation: Adaptation::Cat02,
};

/// S-Gamut3 (Technical Summary for S-Gamut3.Cine/S-Log3 and S-Gamut3/S-Log3, Sony (2014)).
pub const SGAMUT3: Gamut = Gamut {
    primaries: xy3([0.730, 0.280], [0.140, 0.855], [0.100, -0.050]),
    white: D65,
    adaptation: Adaptation::Cat02,
};

/// S-Gamut3.Cine (Technical Summary for S-Gamut3.Cine/S-Log3 and S-Gamut3/S-Log3, Sony (2014)).
pub const SGAMUT3_CINE: Gamut = Gamut {
    primaries: xy3([0.766, 0.275], [0.225, 0.800], [0.089, -0.087]),
    white: D65,
    adaptation: Adaptation::Cat02,
};

/// ARRI Wide Gamut 3 (ALEXA Log C Curve, Usage in VFX, ARRI (2012)).
pub const AWG3: Gamut = Gamut {
    primaries: xy3([0.6840, 0.3130], [0.2210, 0.8480], [0.0861, -0.1020]),
    white: D65,
    adaptation: Adaptation::Cat02,
};

/// ARRI Wide Gamut 4 (ARRI LogC4 Logarithmic Color Space, Specification (2022)).
pub const AWG4: Gamut = Gamut {
    primaries: xy3([0.7347, 0.2653], [0.1424, 0.8576], [0.0991, -0.0308]),
    white: D65,
    adaptation: Adaptation::Cat02,
};

/// V-Gamut (V-Log/V-Gamut Reference Manual Rev 1.0, Panasonic (2014)).
pub const VGAMUT: Gamut = Gamut {
    primaries: xy3([0.730, 0.280], [0.165, 0.840], [0.100, -0.030]),
    white: D65,
    adaptation: Adaptation::Bradford,
};

/// Cinema Gamut (Canon Log and Cinema Gamut input transforms, Canon (2016)).
pub const CINEMA_GAMUT: Gamut = Gamut {
    primaries: xy3([0.740, 0.270], [0.170, 1.140], [0.080, -0.100]),
    white: D65,
    adaptation: Adaptation::Cat02,
};

/// REDWideGamutRGB (White Paper on REDWideGamutRGB and Log3G10, RED (2017)).
pub const REDWIDEGAMUT: Gamut = Gamut {
    primaries: xy3([0.780308, 0.304253], [0.121595, 1.493994], [0.095612, -0.084589]),
    white: D65,
    adaptation: Adaptation::Bradford,
};

/// N-Gamut (N-Log Specification Document Version 1.0.0, Nikon (2018)).
pub const NGAMUT: Gamut = Gamut { primaries: BT2020.primaries, white: D65, adaptation: Adaptation::Bradford };

/// F-Gamut (F-Log Data Sheet Ver.1.0, Fujifilm (2016)).
pub const FGAMUT: Gamut = Gamut { primaries: BT2020.primaries, white: D65, adaptation: Adaptation::Bradford };

/// D-Gamut (White Paper on D-Log and D-Gamut, DJI (2017)).
pub const DGAMUT: Gamut =
    Gamut { primaries: xy3([0.71, 0.31], [0.21, 0.88], [0.09, -0.08]), white: D65, adaptation: Adaptation::Bradford };

/// Adobe RGB (1998) (Adobe RGB (1998) Color Image Encoding, version 2005-05).
pub const ADOBE_RGB: Gamut =
    Gamut { primaries: xy3([0.64, 0.33], [0.21, 0.71], [0.15, 0.06]), white: D65, adaptation: Adaptation::Bradford };

/// A gamut of the catalogue.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Named {
    /// The name in documents and on the command line.
    pub name: &'static str,
    /// The name in its own document.
    pub title: &'static str,
    /// The document of the primaries and the white.
    pub source: &'static str,
    /// The gamut itself.
    pub gamut: Gamut,
}

const fn named(name: &'static str, title: &'static str, source: &'static str, gamut: Gamut) -> Named {
    Named { name, title, source, gamut }
}

/// Every gamut that is built in.
pub const CATALOGUE: [Named; 19] = [
    named("bt709", "BT.709", "ITU-R BT.709-6 (2015)", BT709),
    named("bt2020", "BT.2020", "ITU-R BT.2020-2 (2015)", BT2020),
    named("p3-d65", "P3-D65", "SMPTE RP 431-2:2011, EG 432-1:2010", P3_D65),
    named("p3-dci", "P3-DCI", "SMPTE RP 431-2:2011", P3_DCI),
    named("aces-ap0", "ACES AP0", "SMPTE ST 2065-1:2021", AP0),
    named("aces-ap1", "ACES AP1", "Academy S-2014-004 (2014)", AP1),
    named("sgamut", "S-Gamut", "S-Gamut technical summary, Sony (2012)", SGAMUT),
    named(
        "sgamut3",
        "S-Gamut3",
        "Technical Summary for S-Gamut3.Cine/S-Log3 and S-Gamut3/S-Log3, Sony (2014)",
        SGAMUT3,
    ),
    named(
        "sgamut3-cine",
        "S-Gamut3.Cine",
        "Technical Summary for S-Gamut3.Cine/S-Log3 and S-Gamut3/S-Log3, Sony (2014)",
        SGAMUT3_CINE,
    ),
    named("awg3", "ARRI Wide Gamut 3", "ALEXA Log C Curve, Usage in VFX, ARRI (2012)", AWG3),
    named("awg4", "ARRI Wide Gamut 4", "ARRI LogC4 Logarithmic Color Space, Specification (2022)", AWG4),
    named("vgamut", "V-Gamut", "V-Log/V-Gamut Reference Manual Rev 1.0, Panasonic (2014)", VGAMUT),
    named("cinema-gamut", "Cinema Gamut", "Canon Log and Cinema Gamut input transforms, Canon (2016)", CINEMA_GAMUT),
    named("redwidegamut", "REDWideGamutRGB", "White Paper on REDWideGamutRGB and Log3G10, RED (2017)", REDWIDEGAMUT),
    named("ngamut", "N-Gamut", "N-Log Specification Document Version 1.0.0, Nikon (2018)", NGAMUT),
    named("fgamut", "F-Gamut", "F-Log Data Sheet Ver.1.0, Fujifilm (2016)", FGAMUT),
    named("dgamut", "D-Gamut", "White Paper on D-Log and D-Gamut, DJI (2017)", DGAMUT),
    named("adobe-rgb", "Adobe RGB (1998)", "Adobe RGB (1998) Color Image Encoding, version 2005-05", ADOBE_RGB),
    named("xyz", "CIE XYZ", "CIE 15:2018", XYZ),
];

/// The built-in gamut of that name.
pub fn named_gamut(name: &str) -> Option<&'static Named> {
    const ENTRIES: &[Named] = &CATALOGUE;
    ENTRIES.iter().find(|g| g.name == name)
}
