//! The stops of a curve file: which signal each stop about mid-grey has.
//!
//!     cargo run --example stop_table fixtures/demo/curves/harbour.toml

use rushlight::curve_file;
use rushlight::math::exp2;
use rushlight::transfer::MID_GREY;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let path = std::env::args().nth(1).ok_or("name a curve file")?;
    let curve = curve_file::parse(&path, &std::fs::read_to_string(&path)?)?;
    println!("{}", curve.title());
    for stops in -6..=6 {
        let signal = curve.transfer().encode(MID_GREY * exp2(f64::from(stops)));
        println!("{stops:+} stops  {signal:.4}  code {:.0} of 10 bits", signal * 1023.0);
    }
    Ok(())
}
