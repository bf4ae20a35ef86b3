//! Laws that every built-in encoding keeps.

use super::*;
#[test]
fn p() {
    for e in encodings() {
        let eis: Vec<Option<u32>> =
            if e.ratings.is_empty() { vec![None] } else { e.ratings.iter().map(|&x| Some(x)).collect() };
        for ei in eis {
            let c = e.build(ei).unwrap();
            println!("{} {ei:?} {:?} {:?}", e.name, c.breaks(), c.jumps());
            let mut worst = (0.0f64, 0.0);
            for i in -400i32..=400 {
                let m = math_exp2(f64::from(i.abs()) * 0.1 - 20.0);
                let l = if i < 0 { -m } else { m };
                let b = c.decode(c.encode(l));
                let err = (b - l).abs() / (l.abs() + 1e-3);
                if err > worst.0 {
                    worst = (err, l)
                }
            }
            let mut ws = (0.0f64, 0.0);
            for i in -300..=1300 {
                let s = f64::from(i) * 1e-3;
                let err = (c.encode(c.decode(s)) - s).abs();
                if err > ws.0 {
                    ws = (err, s)
                }
            }
            println!("    light {worst:?} signal {ws:?}");
        }
    }
}
use crate::math::exp2 as math_exp2;
