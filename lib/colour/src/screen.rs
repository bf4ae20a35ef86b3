//! What an sRGB screen shows for a display's signal: for pages and previews, which stand in for the display.

use crate::colour::Signal;
use crate::display::{Display, SRGB};
use crate::gamut::BT709;

/// From a display's signal to that of an sRGB screen. The display's diffuse white, or its peak, is the screen's white; light
/// above it, and light beyond BT.709, is clipped channel by channel.
#[derive(Debug, Clone)]
pub struct Screen<'d> {
    display: &'d Display,
    /// To linear BT.709 light.
    matrix: [[f64; 3]; 3],
    srgb: Display,
}

impl<'d> Screen<'d> {
    /// With the display's diffuse white as the screen's.
    pub fn of(display: &'d Display) -> Self {
        Self::scaled(display, 1.0)
    }

    /// With the display's peak as the screen's white.
    pub fn of_peak(display: &'d Display) -> Self {
        Self::scaled(display, 1.0 / display.peak_ratio())
    }

    fn scaled(display: &'d Display, scale: f64) -> Self {
        let matrix = display.gamut().to(&BT709, None);
        let matrix = std::array::from_fn(|r| std::array::from_fn(|c| scale * matrix[(r, c)]));
        Self { display, matrix, srgb: Display::of(&SRGB) }
    }

    /// The signal of the screen, 0 to 1 in each channel. Domain: any finite signal.
    pub fn show(&self, signal: impl Into<Signal>) -> [f32; 3] {
        let [r, g, b] = self.display.decode(signal).0;
        let light = self.matrix.map(|row| (row[0] * r + row[1] * g + row[2] * b).clamp(0.0, 1.0));
        self.srgb.encode(light).map(|v| v as f32)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::display::{BT2020, BT2100_PQ};

    #[test]
    fn srgb_is_shown_as_it_is() {
        let display = Display::of(&SRGB);
        for signal in [[0.0, 0.5, 1.0], [0.2, 0.3, 0.4]] {
            let shown = Screen::of(&display).show(signal);
            assert!((0..3).all(|c| (f64::from(shown[c]) - signal[c]).abs() < 1e-6), "{signal:?}: {shown:?}");
        }
    }

    #[test]
    fn white_is_diffuse_white_or_the_peak() {
        let display = Display::of(&BT2100_PQ);
        let white = display.encode([1.0; 3]);
        assert!(Screen::of(&display).show(white).iter().all(|v| (v - 1.0).abs() < 1e-6));
        assert!(Screen::of_peak(&display).show(white).iter().all(|v| *v < 0.7), "the peak is far above it");
        assert!(Screen::of_peak(&display).show([1.0; 3]).iter().all(|v| *v > 0.999));
    }

    #[test]
    fn light_beyond_the_screen_is_clipped() {
        let display = Display::of(&BT2020);
        let green = Screen::of(&display).show([0.0, 1.0, 0.0]);
        assert_eq!((green[0], green[1], green[2]), (0.0, 1.0, 0.0));
    }
}
