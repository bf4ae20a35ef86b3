//! The classic chart of 24 patches, six by four: the reflectances of ISO 17321-1:2012.

use super::file::parse_csv;
use super::{Chart, ChartError};

const TABLE: &str = include_str!("classic24.csv");

/// The chart of ISO 17321-1:2012, by its reflectances as the open library colour-science carries them. Charts fade, and no
/// two are printed alike: a measured one is better (see [`super::file`]).
pub fn classic() -> Chart {
    let read = || -> Result<Chart, ChartError> {
        let chart = parse_csv(TABLE, Some([6, 4]))?;
        Ok(Chart {
            name: "24 patches".to_owned(),
            source: "ISO 17321-1:2012, as carried by colour-science 0.4.7".to_owned(),
            ..chart
        })
    };
    read().unwrap_or_else(|why| unreachable!("the built-in chart is a good file: {why}"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chart::light::Light;

    #[test]
    fn it_has_six_greys_and_a_white() {
        let chart = classic();
        assert_eq!((chart.columns, chart.rows, chart.patches.len()), (6, 4, 24));
        let reference = chart.reference(&Light::parse("d65").unwrap()).unwrap();
        assert_eq!(chart.greys(&reference), [18, 19, 20, 21, 22, 23]);
        // Density 0.05 is a reflectance of 0.891.
        assert!((reference[18][1] - 0.891).abs() < 0.02, "{:?}", reference[18]);
    }
}
