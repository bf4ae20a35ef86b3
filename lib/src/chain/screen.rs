//! A chart of display signal, read off a monitor by eye: what range the screen takes, whether it clips, and about which
//! gamma it has. Nothing is captured, so that it serves boxes and monitors that give nothing back.
//!
//! # Range
//! Eight numbered bars stand on black of legal range (code 64), eight on its white (code 940). A screen of full range shows
//! bars on both sides of that code; one of legal range shows only those that lie inside.
//!
//! # Gamma
//! Rows of black and white pixels in turn give half of the light. The patch beside them that is as bright from a distance
//! names the gamma: its signal is 1/2 to the power 1/gamma. Common practice, no source. It holds where the screen shows each
//! pixel of the chart as one of its own, and neither sharpens nor scales.

use super::draw::Sheet;
use super::layout::{Area, check_size};
use crate::frame::Frame;
use crate::invalid::Invalid;
use crate::math::pow;

/// Codes of the bars on black, from the left.
pub const DARK: [u16; 8] = [16, 32, 48, 58, 72, 84, 100, 120];
/// The code of their ground.
pub const DARK_GROUND: u16 = 64;
/// Codes of the bars on white.
pub const LIGHT: [u16; 8] = [884, 904, 920, 932, 950, 966, 988, 1016];
/// The code of their ground.
pub const LIGHT_GROUND: u16 = 940;
/// Gammas of the patches.
pub const GAMMAS: [f64; 7] = [1.8, 1.96, 2.1, 2.2, 2.3, 2.4, 2.6];

/// Which bars are seen on black and on white, and what that means.
pub const READINGS: [(&str, &str); 6] = [
    ("1 to 8 on black, 1 to 8 on white", "full range: the screen shows all codes"),
    ("5 to 8 on black, 1 to 4 on white", "legal range: the screen shows 64 to 940"),
    ("5 to 8 on black, 1 to 8 on white", "black is clipped: lower the lift or check the range of the input"),
    ("1 to 8 on black, 1 to 4 on white", "white is clipped: lower the gain or check the range of the input"),
    ("6, 7 or 8 alone on black", "shadows are crushed: the lift is too low, or light falls on the screen"),
    ("fewer than 4 on white", "highlights are crushed: lower the gain"),
];

/// The chart: signal of the display, codes of 10 bits.
///
/// # Errors
/// A size that no chart has.
pub fn screen(width: usize, height: usize) -> Result<Frame, Invalid> {
    check_size(width, height)?;
    let mut sheet = Sheet::new(width, height, 180);
    let ink = 700;
    sheet.text([6.0, 4.0], 0.5, "DISPLAY CHART: LOOK AT IT IN THE DARK", ink);
    for (top, ground, codes, name) in
        [(10.0, DARK_GROUND, DARK, "BARS ON BLACK"), (42.0, LIGHT_GROUND, LIGHT, "BARS ON WHITE")]
    {
        sheet.text([6.0, top], 0.4, name, ink);
        let field = Area::new(6.0, top + 4.0, 180.0, 20.0);
        sheet.flat(field, ground);
        for (i, code) in codes.iter().enumerate() {
            let left = field.x + 10.0 + 21.5 * i as f64;
            sheet.flat(Area::new(left, field.y + 2.0, 11.0, field.height - 4.0), *code);
            sheet.text([left + 4.5, field.y + field.height + 0.8], 0.4, &(i + 1).to_string(), ink);
        }
    }
    sheet.text([6.0, 74.0], 0.4, "GAMMA: WHICH PATCH IS AS BRIGHT AS ITS FRAME OF LINES, FROM A DISTANCE?", ink);
    for (i, gamma) in GAMMAS.iter().enumerate() {
        let field = Area::new(6.0 + 26.0 * i as f64, 78.0, 22.0, 14.0);
        sheet.fill(field, |_, y, _| if y % 2 == 0 { [0; 3] } else { [1023; 3] });
        sheet.flat(field.core(0.5), (1023.0 * pow(0.5, 1.0 / gamma)).round() as u16);
        sheet.text([field.x + 6.0, 93.0], 0.4, &gamma.to_string(), ink);
    }
    sheet.text([6.0, 98.0], 0.36, "1-8 ON BOTH: FULL RANGE. 5-8 ON BLACK, 1-4 ON WHITE: LEGAL RANGE.", ink);
    sheet.text([6.0, 102.0], 0.36, "5-8 ON BLACK, 1-8 ON WHITE: BLACK IS CLIPPED. 1-8, 1-4: WHITE IS CLIPPED.", ink);
    Ok(sheet.frame())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bars_lie_on_both_sides_of_their_ground_as_the_readings_say() {
        assert!(DARK[..4].iter().all(|c| *c < DARK_GROUND) && DARK[4..].iter().all(|c| *c > DARK_GROUND));
        assert!(LIGHT[..4].iter().all(|c| *c < LIGHT_GROUND) && LIGHT[4..].iter().all(|c| *c > LIGHT_GROUND));
        let frame = screen(1920, 1080).unwrap();
        let code = |x: f64, y: f64| {
            (f64::from(frame.rgb((x * 10.0) as usize, (y * 10.0) as usize)[1]) * 1023.0).round() as u16
        };
        for i in 0..8 {
            let x = 16.0 + 21.5 * i as f64 + 5.0;
            assert_eq!([code(x, 24.0), code(x, 56.0)], [DARK[i], LIGHT[i]]);
        }
        assert_eq!([code(8.0, 24.0), code(8.0, 56.0)], [DARK_GROUND, LIGHT_GROUND]);
        // Half of the light: 2.2 has code 747 (0.5 to the power 1/2.2, by hand).
        assert_eq!(code(6.0 + 26.0 * 3.0 + 11.0, 85.0), 747);
        assert!(screen(640, 360).is_err());
    }
}
