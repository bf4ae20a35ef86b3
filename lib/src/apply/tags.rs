//! The colour tags of a file of a display's signal.

use super::icc;
use crate::camera::Range;
use crate::display::{Display, Eotf};
use crate::frame::{Cicp, Tags};
use crate::gamut::{BT709, BT2020, Gamut, P3_D65, P3_DCI};
use crate::transfer::gamma::{GAMMA22, GAMMA24, GAMMA26};

/// Code points of ITU-T H.273 (2021), tables 2 to 4, for what they have.
pub mod code {
    /// No code point says it.
    pub const UNSPECIFIED: u8 = 2;
    /// BT.709: primaries, transfer and matrix.
    pub const BT709: u8 = 1;
    /// Gamma 2.2.
    pub const GAMMA22: u8 = 4;
    /// BT.2020: primaries, and the matrix of non-constant luminance.
    pub const BT2020: u8 = 9;
    /// P3 with the DCI white.
    pub const P3_DCI: u8 = 11;
    /// P3 with D65.
    pub const P3_D65: u8 = 12;
    /// sRGB's transfer.
    pub const SRGB: u8 = 13;
    /// BT.2020's transfer at 10 bits.
    pub const BT2020_10: u8 = 14;
    /// PQ.
    pub const PQ: u8 = 16;
    /// HLG.
    pub const HLG: u8 = 18;
}

/// Primaries and transfer by the code points of H.273.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Codes {
    /// ColourPrimaries.
    pub primaries: u8,
    /// TransferCharacteristics.
    pub transfer: u8,
}

/// The code points of a display. BT.1886 is what pictures that are tagged with the transfer of BT.709 and BT.2020 are
/// watched by (ITU-R BT.709-6 and BT.2020-2 name it).
pub fn codes(display: &Display) -> Codes {
    let settings = display.settings();
    let is = |gamut: Gamut| settings.gamut.primaries == gamut.primaries && settings.gamut.white == gamut.white;
    let primaries = [(BT709, code::BT709), (BT2020, code::BT2020), (P3_D65, code::P3_D65), (P3_DCI, code::P3_DCI)]
        .into_iter()
        .find(|(gamut, _)| is(*gamut))
        .map_or(code::UNSPECIFIED, |(_, code)| code);
    let transfer = match settings.eotf {
        Eotf::Bt1886 if primaries == code::BT2020 => code::BT2020_10,
        Eotf::Bt1886 => code::BT709,
        Eotf::Srgb => code::SRGB,
        Eotf::Gamma(gamma) if gamma == GAMMA22 => code::GAMMA22,
        Eotf::Gamma(_) => code::UNSPECIFIED,
        Eotf::Pq => code::PQ,
        Eotf::Hlg => code::HLG,
    };
    Codes { primaries, transfer }
}

/// The tags of a still of the display's signal.
///
/// A signal of legal range has code points alone: no profile and no other tag of a still can say that black is not 0.
pub fn tags(display: &Display) -> Tags {
    let settings = display.settings();
    let codes = codes(display);
    let full_range = settings.range == Range::Full;
    let known = codes.primaries != code::UNSPECIFIED && codes.transfer != code::UNSPECIFIED;
    let [red, green, blue] = settings.gamut.primaries;
    let gamma = match settings.eotf {
        Eotf::Bt1886 => Some(2.4),
        Eotf::Srgb => Some(2.2),
        Eotf::Gamma(g) => [(GAMMA22, 2.2), (GAMMA24, 2.4), (GAMMA26, 2.6)].iter().find(|(c, _)| *c == g).map(|c| c.1),
        Eotf::Pq | Eotf::Hlg => None,
    };
    Tags {
        cicp: known.then(|| Cicp { full_range, ..Cicp::rgb(codes.primaries, codes.transfer) }),
        srgb: full_range && codes == (Codes { primaries: code::BT709, transfer: code::SRGB }),
        icc: full_range.then(|| icc::profile(display)),
        chromaticities: full_range.then_some([red, green, blue, settings.gamut.white]),
        gamma: gamma.filter(|_| full_range).map(|g| 1.0 / g),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::display::{STANDARDS, standard};

    #[test]
    fn every_standard_display_is_tagged_by_its_code_points() {
        let codes = |name| {
            let Codes { primaries, transfer } = super::codes(&Display::of(standard(name).unwrap()));
            (primaries, transfer)
        };
        // ITU-T H.273 (2021), tables 2 and 3.
        assert_eq!(codes("bt709"), (1, 1));
        assert_eq!(codes("srgb"), (1, 13));
        assert_eq!(codes("p3-d65"), (12, 2));
        assert_eq!(codes("p3-dci"), (11, 2));
        assert_eq!(codes("bt2020"), (9, 14));
        assert_eq!(codes("bt2100-pq"), (9, 16));
        assert_eq!(codes("bt2100-hlg"), (9, 18));
    }

    #[test]
    fn a_legal_signal_is_never_said_to_be_full() {
        for standard in &STANDARDS {
            let mut settings = crate::display::DisplaySettings::of(standard);
            settings.range = Range::Legal;
            let tags = tags(&Display::new(settings).unwrap());
            assert!(!tags.srgb && tags.icc.is_none() && tags.gamma.is_none() && tags.chromaticities.is_none());
            assert!(tags.cicp.is_none_or(|c| !c.full_range));
        }
    }
}
