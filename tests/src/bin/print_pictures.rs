//! Pictures of the print to look at: a grey ramp, hue against exposure at three saturations, and a chart of 24 patches.
//!
//!     cargo run -p rushlight-tests --bin print_pictures -- FOLDER
//!
//! Each built-in print gives its own files, BT.709 at gamma 2.4. Colours that BT.709 lacks are brought in along a
//! straight line of equal luminance towards grey.

use nalgebra::{Matrix3, Vector3};
use rushlight::chromaticity::D65;
use rushlight::gamut::{BT709, BT2020};
use rushlight::math::{exp2, pow};
use rushlight::step::print::{Print, VARIANTS};
use rushlight_tests::print::{fixture, three, to_ap1};
use std::path::Path;

const STOPS: [f64; 2] = [-7.0, 7.0];

/// XYZ under D65 to a pixel.
fn pixel(xyz: [f64; 3], from_xyz: &Matrix3<f64>, weights: &Vector3<f64>) -> [u8; 3] {
    let rgb = from_xyz * Vector3::from(xyz);
    let y = weights.dot(&rgb).clamp(0.0, 1.0);
    let d = rgb - Vector3::repeat(y);
    let reach = d.iter().map(|d| if *d < 0.0 { -d / y } else { d / (1.0 - y) }).fold(0.0, f64::max);
    const KNEE: f64 = 0.8;
    let share = if y <= 0.0 || y >= 1.0 {
        0.0
    } else if reach > KNEE {
        let z = (reach - KNEE) / (1.0 - KNEE);
        (KNEE + (1.0 - KNEE) * z / pow(1.0 + pow(z, 1.2), 1.0 / 1.2)) / reach
    } else {
        1.0
    };
    let shown = (Vector3::repeat(y) + d * share).map(|v| (pow(v.clamp(0.0, 1.0), 1.0 / 2.4) * 255.0 + 0.5) as u8);
    shown.into()
}

fn picture(path: &Path, width: u32, height: u32, colour: impl Fn(f64, f64) -> [u8; 3]) {
    let mut bytes = Vec::with_capacity((width * height * 3) as usize);
    for row in 0..height {
        for column in 0..width {
            bytes.extend(colour(
                (f64::from(column) + 0.5) / f64::from(width),
                (f64::from(row) + 0.5) / f64::from(height),
            ));
        }
    }
    let file = std::fs::File::create(path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    let mut encoder = png::Encoder::new(std::io::BufWriter::new(file), width, height);
    encoder.set_color(png::ColorType::Rgb);
    let mut writer = encoder.write_header().expect("a heading");
    writer.write_image_data(&bytes).expect("the pixels");
}

fn main() {
    let folder = std::env::args_os().nth(1).expect("a folder to write to");
    let folder = Path::new(&folder);
    std::fs::create_dir_all(folder).unwrap_or_else(|e| panic!("{}: {e}", folder.display()));
    let (from_xyz, weights) = (BT709.from_xyz(), BT709.luminance_weights());
    for v in VARIANTS {
        let print = Print::new(&v.settings, D65, 1.0).expect("built-in prints are allowed");
        let level = |t: f64| 0.18 * exp2(STOPS[0] + (STOPS[1] - STOPS[0]) * t);
        let show = |ap1: Vector3<f64>| pixel(print.render(ap1.into()), &from_xyz, &weights);
        // Upper half: steps of half a stop. Lower half: smooth.
        picture(&folder.join(format!("{}-grey.png", v.name)), 1400, 240, |x, y| {
            let x = if y < 0.5 { ((x * 28.0).floor() + 0.5) / 28.0 } else { x };
            show(Vector3::repeat(level(x)))
        });
        for (name, gamut, share) in [("quarter", BT709, 0.25), ("bt709", BT709, 1.0), ("bt2020", BT2020, 1.0)] {
            let matrix = to_ap1(&gamut);
            picture(&folder.join(format!("{}-hues-{name}.png", v.name)), 1080, 700, |x, y| {
                let ramp = |phase: f64| (((x * 6.0 + phase).rem_euclid(6.0) - 3.0).abs() - 1.0).clamp(0.0, 1.0);
                let pure = Vector3::new(ramp(0.0), ramp(4.0), ramp(2.0));
                show(matrix * (pure * share + Vector3::repeat(1.0 - share)) * level(1.0 - y))
            });
        }
        // Each patch as the scene (left) and as the print (right), the scene brought down to the print's mid-grey.
        let patches = fixture("chart24.csv");
        picture(&folder.join(format!("{}-chart.png", v.name)), 1200, 800, |x, y| {
            let row = &patches[(y * 4.0) as usize * 6 + (x * 6.0) as usize];
            if (x * 6.0).fract() < 0.5 {
                let down = v.settings.grey / 0.18;
                pixel(three(row, 1).map(|v| v * down), &from_xyz, &weights)
            } else {
                show(three(row, 4).into())
            }
        });
    }
}
