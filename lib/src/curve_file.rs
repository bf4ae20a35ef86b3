//! Curve files: a curve for a camera that is not built in, as a TOML document.
//!
//! The numbers come from the maker's own document or from a measurement; [`crate::transfer::custom`] says what each of
//! them is. One of the tables `[log]`, `[gamma-log]` and `[table]` says which kind of curve it is.
//!
//! A curve must give a signal: mid-grey within 0 and 1, the end above it and within 100 stops, and a code of 10 bits of rise
//! at least.

mod signal;

use crate::document::{Document, Problems};
use crate::invalid::{Invalid, Refusals};
use crate::transfer::custom::{
    GammaLogCurve, GammaLogParameters, LogCurve, LogParameters, TableCurve, TableParameters, Toe,
};
use crate::transfer::{LogBase, Transfer};
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::Deserialize;
use signal::Unit;
use std::borrow::Cow;
use std::sync::Arc;

/// The version of the document's shape that is read.
pub const SCHEMA: u32 = 1;

/// The tables that say which kind of curve it is.
const KINDS: [&str; 3] = ["log", "gamma-log", "table"];

/// A curve read from a file.
#[derive(Debug, Clone)]
pub struct CurveFile {
    title: String,
    source: String,
    transfer: Arc<dyn Transfer>,
}

impl CurveFile {
    /// The curve's title.
    pub fn title(&self) -> &str {
        &self.title
    }

    /// Where its numbers come from, as the file says.
    pub fn source(&self) -> &str {
        &self.source
    }

    /// The curve: scene reflectance to code value over 1023, and back.
    pub fn transfer(&self) -> Arc<dyn Transfer> {
        self.transfer.clone()
    }
}

/// A curve for a camera that is not built in. It has one of the tables `log`, `gamma-log` and `table`.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
#[schemars(title = "Rushlight curve", extend("oneOf" = one_kind()))]
struct CurveDoc {
    /// The version of this document's shape: 1.
    #[schemars(extend("const" = SCHEMA))]
    #[expect(dead_code, reason = "checked as it stands in the text")]
    schema: u32,
    /// The curve's title.
    #[schemars(length(min = 1))]
    title: String,
    /// Where the numbers come from: the document's name, number and year, or how they were measured.
    #[schemars(length(min = 1))]
    source: String,
    /// A logarithm above a linear or quadratic toe.
    log: Option<LogDoc>,
    /// A power below a logarithm.
    gamma_log: Option<GammaLogDoc>,
    /// Measured points.
    table: Option<TableDoc>,
}

/// The base of a logarithm: 2, 10 or "e".
#[derive(Debug, Clone, Copy, Deserialize)]
#[serde(untagged, expecting = "must be 2, 10 or \"e\"")]
enum BaseDoc {
    Number(u32),
    Name(BaseName),
}

#[derive(Debug, Clone, Copy, Deserialize)]
enum BaseName {
    #[serde(rename = "e")]
    Natural,
}

/// One of the tables that say which kind of curve it is.
fn one_kind() -> serde_json::Value {
    KINDS.map(|kind| serde_json::json!({ "required": [kind] })).to_vec().into()
}

impl JsonSchema for BaseDoc {
    fn schema_name() -> Cow<'static, str> {
        "Base".into()
    }

    fn inline_schema() -> bool {
        true
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "enum": [2, 10, "e"] })
    }
}

impl BaseDoc {
    fn base(self) -> Result<LogBase, Invalid> {
        match self {
            Self::Number(2) => Ok(LogBase::Two),
            Self::Number(10) => Ok(LogBase::Ten),
            Self::Name(BaseName::Natural) => Ok(LogBase::E),
            Self::Number(other) => {
                Err(Invalid::new("log_base", format!("{other} is not a known base: use 2, 10 or \"e\"")))
            }
        }
    }
}

/// From `break_light` up, signal = log_slope log(light_gain light + light_offset) + signal_offset; below, the toe.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct LogDoc {
    /// Base of the logarithm, as the maker's document writes it: 2, 10 or "e".
    log_base: BaseDoc,
    /// Signal for each unit of the logarithm; with base 2, signal a stop.
    log_slope: f64,
    /// Factor on light inside the logarithm.
    light_gain: f64,
    /// Added to light after the factor, inside the logarithm.
    light_offset: f64,
    /// Added to the logarithm, in signal.
    signal_offset: f64,
    /// The light (reflectance) at which the logarithm begins.
    break_light: f64,
    /// A straight toe; numbers that are not given follow so that the pieces meet.
    linear_toe: Option<LinearToeDoc>,
    /// A quadratic toe; numbers that are not given follow so that the pieces meet.
    quadratic_toe: Option<QuadraticToeDoc>,
}

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct LinearToeDoc {
    /// Signal per reflectance.
    slope: Option<f64>,
    /// Signal at zero light.
    offset: Option<f64>,
}

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct QuadraticToeDoc {
    /// Signal per reflectance squared.
    curvature: Option<f64>,
    /// Signal per reflectance at zero light.
    slope: Option<f64>,
    /// Signal at zero light.
    offset: Option<f64>,
}

/// Below `break_light`, signal = gain (light + shift)^exponent + black; above, a logarithm as in `log`.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct GammaLogDoc {
    /// Factor of the power, in signal; one of it and `signal_offset` may be omitted and then follows so that the pieces meet.
    gain: Option<f64>,
    /// Exponent of the power, such as 0.5 for a square root.
    exponent: f64,
    /// Added to light before the power; default: 0.
    #[serde(default)]
    shift: f64,
    /// Added to the power, in signal; default: 0.
    #[serde(default)]
    black: f64,
    /// Base of the logarithm, as the maker's document writes it: 2, 10 or "e".
    log_base: BaseDoc,
    /// Signal for each unit of the logarithm.
    log_slope: f64,
    /// Factor on light inside the logarithm.
    light_gain: f64,
    /// Added to light after the factor, inside the logarithm.
    light_offset: f64,
    /// Added to the logarithm, in signal.
    signal_offset: Option<f64>,
    /// The light (reflectance) at which the logarithm begins.
    break_light: f64,
}

#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct TableDoc {
    /// Measured points, [stops from mid-grey, signal], both rising from point to point. Signal is 0 to 1, a code divided
    /// by 1023, unless `codes` or `percent` says else.
    #[serde(deserialize_with = "crate::document::numbers::lists_of_numbers")]
    points: Vec<[f64; 2]>,
    /// Signal at zero light, such as that of the capped lens.
    black: Option<f64>,
    /// The signals are code values of so many bits, 8, 10 or 12: 0 to 255, 1023 or 4095.
    #[schemars(extend("enum" = [8, 10, 12]))]
    codes: Option<u32>,
    /// The signals are per cent of legal range, as a waveform monitor shows them: 0 is code 64 of 10 bits, 100 is code 940.
    #[serde(default)]
    percent: bool,
}

type Made = Result<Arc<dyn Transfer>, Refusals>;

impl LogDoc {
    fn build(&self) -> Made {
        let (kind, toe) = match (&self.linear_toe, &self.quadratic_toe) {
            (Some(t), None) => ("linear_toe", Toe::Linear { slope: t.slope, offset: t.offset }),
            (None, Some(t)) => {
                ("quadratic_toe", Toe::Quadratic { curvature: t.curvature, slope: t.slope, offset: t.offset })
            }
            (None, None) => ("linear_toe", Toe::Linear { slope: None, offset: None }),
            (Some(_), Some(_)) => {
                return Err(
                    Invalid::new("quadratic_toe", "a curve has one toe: `linear_toe` or `quadratic_toe`").into()
                );
            }
        };
        let parameters = LogParameters {
            log_base: self.log_base.base().map_err(Refusals::from)?,
            log_slope: self.log_slope,
            light_gain: self.light_gain,
            light_offset: self.light_offset,
            signal_offset: self.signal_offset,
            break_light: self.break_light,
            toe,
        };
        let rename = |r: Invalid| match r.key.strip_prefix("toe") {
            Some(rest) => Invalid::new(format!("{kind}{rest}"), r.message),
            None => r,
        };
        LogCurve::new(&parameters).map(shared).map_err(|refused| refused.into_iter().map(rename).collect())
    }
}

impl GammaLogDoc {
    fn build(&self) -> Made {
        GammaLogCurve::new(&GammaLogParameters {
            gain: self.gain,
            exponent: self.exponent,
            shift: self.shift,
            black: self.black,
            log_base: self.log_base.base().map_err(Refusals::from)?,
            log_slope: self.log_slope,
            light_gain: self.light_gain,
            light_offset: self.light_offset,
            signal_offset: self.signal_offset,
            break_light: self.break_light,
        })
        .map(shared)
    }
}

impl TableDoc {
    fn build(&self) -> Made {
        let refuse = |key: &str, why: &str| Err(Invalid::new(key, why).into());
        let unit = match (self.codes, self.percent) {
            (None, false) => Unit::Signal,
            (None, true) => Unit::Percent,
            (Some(bits @ (8 | 10 | 12)), false) => Unit::Codes(bits),
            (Some(_), true) => return refuse("percent", "signals are codes or per cent, one of the two"),
            (Some(_), false) => return refuse("codes", "must be the bits of the codes: 8, 10 or 12"),
        };
        signal::check_points(&self.points, unit).map_err(Refusals::from)?;
        let points = self.points.iter().map(|[stops, signal]| [*stops, unit.signal(*signal)]).collect();
        TableCurve::new(&TableParameters { points, black: self.black.map(|black| unit.signal(black)) }).map(shared)
    }
}

fn shared<T: Transfer + 'static>(curve: T) -> Arc<dyn Transfer> {
    Arc::new(curve)
}

/// Reads the curve document `text`, whose file is `name`.
///
/// # Errors
/// Every problem of the document.
pub fn parse(name: &str, text: &str) -> Result<CurveFile, Problems> {
    let mut document = Document::parse(name, text)?;
    let Some(doc) = document.read_sound_part::<CurveDoc>("", &[]) else {
        return Err(document.into_problems());
    };
    document.check_head(SCHEMA, &["title", "source"]);
    let made: Vec<(&str, Made)> = [
        doc.log.as_ref().map(|d| ("log", d.build())),
        doc.gamma_log.as_ref().map(|d| ("gamma-log", d.build())),
        doc.table.as_ref().map(|d| ("table", d.build())),
    ]
    .into_iter()
    .flatten()
    .collect();
    let sound = KINDS.iter().all(|key| !document.is_wrong_within(key));
    if made.len() > 1 || made.is_empty() && sound {
        let key = made.get(1).map_or("", |m| m.0);
        let message = format!("{} curves: a curve file has one of [log], [gamma-log] and [table]", made.len());
        document.refuse(Invalid::new(key, message));
    }
    let mut transfer = None;
    for (key, made) in made {
        let sound = made.and_then(|curve| signal::check(&*curve).map(|()| curve).map_err(Refusals::from));
        match sound {
            Ok(curve) => transfer = Some(curve),
            Err(refused) => document.refuse_standing(key, refused),
        }
    }
    match transfer {
        Some(transfer) if document.is_valid() => Ok(CurveFile { title: doc.title, source: doc.source, transfer }),
        _ => Err(document.into_problems()),
    }
}

/// The JSON Schema of a curve document.
pub fn schema() -> serde_json::Value {
    schemars::schema_for!(CurveDoc).to_value()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::transfer::MID_GREY;

    const LOG: &str = "schema = 1\ntitle = 'Invented log'\nsource = 'invented for a test'\n[log]\nlog_base = 2\n\
        log_slope = 0.065\nlight_gain = 1.0\nlight_offset = 0.01\nsignal_offset = 0.65\nbreak_light = 0.004\n";

    #[test]
    fn a_log_curve_is_read_and_inverts() {
        let file = parse("c.toml", LOG).unwrap();
        assert_eq!(file.title(), "Invented log");
        let curve = file.transfer();
        for light in [-0.1, 0.0, 0.003, MID_GREY, 40.0] {
            assert!((curve.decode(curve.encode(light)) - light).abs() < 1e-12 * (1.0 + light));
        }
    }

    #[test]
    fn a_table_is_read_and_passes_through_its_points() {
        let text =
            "schema = 1\ntitle = 't'\nsource = 's'\n[table]\npoints = [[-6, 0.15], [0, 0.5], [4, 0.9]]\nblack = 0.1\n";
        let curve = parse("c.toml", text).unwrap().transfer();
        assert!((curve.encode(MID_GREY) - 0.5).abs() < 1e-12);
        assert!((curve.encode(0.0) - 0.1).abs() < 1e-12);
    }

    fn table(points: &str, more: &str) -> String {
        format!("schema = 1\ntitle = 't'\nsource = 's'\n[table]\npoints = {points}\n{more}")
    }

    #[test]
    fn a_table_may_be_in_codes_or_per_cent() {
        let signal = parse("c.toml", &table("[[-6, 0.1], [0, 0.5], [6, 0.9]]", "black = 0.05")).unwrap().transfer();
        for (bits, most) in [(8, 255.0), (10, 1023.0), (12, 4095.0)] {
            let points = format!("[[-6, {}], [0, {}], [6, {}]]", 0.1 * most, 0.5 * most, 0.9 * most);
            let more = format!("codes = {bits}\nblack = {}", 0.05 * most);
            let codes = parse("c.toml", &table(&points, &more)).unwrap().transfer();
            for light in [0.0, 0.01, MID_GREY, 3.0] {
                assert!((codes.encode(light) - signal.encode(light)).abs() < 1e-12);
            }
        }
        let percent = parse("c.toml", &table("[[-6, 5], [0, 41], [6, 100]]", "percent = true")).unwrap().transfer();
        assert!((percent.encode(MID_GREY) - (64.0 + 0.41 * 876.0) / 1023.0).abs() < 1e-12);
    }

    #[test]
    fn what_is_no_signal_is_refused_with_what_was_meant() {
        for (text, part) in [
            (
                table("[[-6, 95], [-4, 150], [-2, 280], [0, 420], [2, 560], [4, 720], [6, 880]]", ""),
                "c.toml:5:10: table.points: a signal is 0 to 1, not 880: these look like codes of 10 bits: divide by 1023, or set `codes = 10`",
            ),
            (table("[[-6, 3], [0, 41], [6, 100]]", ""), "these look like per cent: set `percent = true`"),
            (table("[[-6, 30], [0, 110], [6, 220]]", ""), "codes of 8 bits"),
            (table("[[-6, 300], [0, 1700], [6, 3700]]", ""), "codes of 12 bits"),
            (table("[[-6, 0.1], [0, 0.5]]", "codes = 10"), "these are signals, 0 to 1, already"),
            (table("[[-6, 1], [0, 900], [6, 1900]]", "codes = 10"), "1900 is not a code of 10 bits, which end at 1023"),
            (table("[[-6, 100], [0, 400]]", "codes = 11"), "table.codes: must be the bits of the codes"),
            (
                table("[[-6, 10], [0, 40]]", "codes = 10\npercent = true"),
                "table.percent: signals are codes or per cent",
            ),
            (table("[[-6, 0.1], [-1, 0.4]]", ""), "table: it ends at 0.4, not above mid-grey"),
            (table("[[-6, 0.4], [6, 0.4003]]", ""), "table: it ends at 0.4003, not above mid-grey"),
            (table("[[-6, 0.4], [0, 0.4003], [90, 0.402]]", ""), "less than a code of 10 bits"),
            (LOG.replace("= 0.065", "= 1e-5"), "log: it rises by"),
            (LOG.replace("= 0.065", "= 0.0005"), "stops over mid-grey: it rises too slowly"),
            (LOG.replace("signal_offset = 0.65", "signal_offset = 420"), "it puts mid-grey, light of 0.18, at 419.8"),
        ] {
            let found = parse("c.toml", &text).map(|_| ()).unwrap_err().to_string();
            assert!(found.contains(part), "{part} is not in {found}");
        }
    }

    #[test]
    fn what_is_wrong_has_its_place() {
        let cases = [
            (LOG.replace("log_base = 2", "log_base = 7"), "c.toml:5:12: log.log_base: 7 is not a known base"),
            (LOG.replace("log_slope = 0.065", "log_slope = -1"), "c.toml:6:13: log.log_slope: "),
            (LOG.replace("light_gain", "light_gian"), "did you mean `light_gain`?"),
            (format!("{LOG}[table]\npoints = [[0, 0.4], [1, 0.5]]\n"), "table: 2 curves"),
            (LOG.replace("schema = 1", "schema = 9"), "c.toml:1:10: schema: 9 is not supported"),
            (format!("{LOG}[log.linear_toe]\nslope = 5\noffset = 0.9\n"), "log.linear_toe"),
            (LOG[..LOG.find("[log]").unwrap()].to_owned(), "0 curves"),
        ];
        for (text, expected) in cases {
            let found = parse("c.toml", &text).unwrap_err().to_string();
            assert!(found.contains(expected), "{expected} not in {found}");
        }
    }
}
