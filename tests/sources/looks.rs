//! Looks as values: what is built in code is what its document says, whatever the settings are.

use proptest::collection::vec;
use proptest::option;
use proptest::prelude::*;
use proptest::sample::select;
use rushlight::adaptation::Adaptation;
use rushlight::cube::Interpolation;
use rushlight::files::Recorder;
use rushlight::invalid::Parameter;
use rushlight::invalid::Refusals;
use rushlight::look::{self, Draft, Look, Named};
use rushlight::step::balance::{self, BalanceSettings, White};
use rushlight::step::cdl::{self, CdlNumbers, CdlSettings};
use rushlight::step::compress::{self, CompressSettings};
use rushlight::step::contrast::{self, ContrastSettings};
use rushlight::step::cube::{self, CubeSettings, Gives};
use rushlight::step::exposure::{self, ExposureSettings};
use rushlight::step::print::{PrintSettings, VARIANTS, parameters};
use rushlight::step::printer::{self, PrinterSettings};
use rushlight::step::saturation::{self, SaturationSettings};
use rushlight::step::space::{CustomGamut, GamutChoice, Space};
use rushlight::step::tint::{self, TintSettings};
use rushlight::step::tone::ToneSettings;
use rushlight::step::{Context, Rendering, Settings, Step};
use std::collections::BTreeMap;

fn files() -> BTreeMap<String, Vec<u8>> {
    let cube = "LUT_3D_SIZE 2\n0 0 0\n1 0 0\n0 1 0\n1 1 0\n0 0 1\n1 0 1\n0 1 1\n1 1 1\n";
    BTreeMap::from([("cubes/own.cube".to_owned(), cube.as_bytes().to_vec())])
}

/// Any number within bounds, the default often.
fn any_of(p: Parameter) -> BoxedStrategy<f64> {
    let default = p.default.clamp(p.min, p.max);
    prop_oneof![3 => p.min..=p.max, 1 => Just(default)].boxed()
}

fn three(p: Parameter) -> BoxedStrategy<[f64; 3]> {
    [any_of(p), any_of(p), any_of(p)].boxed()
}

fn white() -> BoxedStrategy<White> {
    let kelvin = (any_of(balance::KELVIN), option::of(-10.0..10.0)).prop_map(|(kelvin, tint)| White {
        kelvin: Some(kelvin),
        tint,
        xy: None,
    });
    let xy = (0.2..0.5, 0.2..0.5).prop_map(|(x, y)| White { kelvin: None, tint: None, xy: Some([x, y]) });
    prop_oneof![kelvin, xy].boxed()
}

fn space() -> BoxedStrategy<Space> {
    let own = CustomGamut { red: [0.72, 0.29], green: [0.18, 0.82], blue: [0.11, -0.02], white: [0.3127, 0.329] };
    let gamut = select(vec![
        GamutChoice::Name("aces-ap1".to_owned()),
        GamutChoice::Name("sgamut3-cine".to_owned()),
        GamutChoice::Custom(own),
    ]);
    let curve = select(vec![("slog3", None), ("acescct", None), ("logc3", Some(800))]);
    (curve, gamut).prop_map(|((curve, ei), gamut)| Space { ei, gamut, ..Space::named(curve, "aces-ap1") }).boxed()
}

fn cube(gives: impl Strategy<Value = Gives> + 'static, strength: BoxedStrategy<f64>) -> BoxedStrategy<Settings> {
    (space(), gives, strength, select(Interpolation::ALL.to_vec()))
        .prop_map(|(expects, gives, strength, interpolation)| {
            CubeSettings { file: "cubes/own.cube".to_owned(), interpolation, strength, expects, gives }.into()
        })
        .boxed()
}

fn scene() -> BoxedStrategy<Settings> {
    let tint = (
        (three(tint::SHADOWS), three(tint::HIGHLIGHTS)),
        (any_of(tint::SHADOW_START), any_of(tint::SHADOW_WIDTH)),
        (any_of(tint::HIGHLIGHT_START), any_of(tint::HIGHLIGHT_WIDTH)),
        any::<[bool; 2]>(),
    );
    prop_oneof![
        any_of(exposure::STOPS).prop_map(|stops| ExposureSettings::stops(stops).into()),
        any_of(exposure::FACTOR).prop_map(|factor| ExposureSettings::factor(factor).into()),
        (white(), option::of(white()), select(Adaptation::ALL.to_vec()))
            .prop_map(|(from, to, adaptation)| BalanceSettings { from, to, adaptation }.into()),
        (three(cdl::SLOPE), three(cdl::OFFSET), three(cdl::POWER), any_of(cdl::SATURATION), any::<bool>()).prop_map(
            |(slope, offset, power, saturation, clamp)| {
                CdlSettings { clamp, ..CdlSettings::of(CdlNumbers { slope, offset, power, saturation }) }.into()
            }
        ),
        (three(printer::POINTS), any_of(printer::PER_STOP)).prop_map(|(points, per_stop)| PrinterSettings {
            points,
            per_stop
        }
        .into()),
        any_of(saturation::AMOUNT).prop_map(|amount| SaturationSettings { amount }.into()),
        (any_of(contrast::AMOUNT), any_of(contrast::PIVOT)).prop_map(|(amount, pivot)| ContrastSettings {
            amount,
            pivot
        }
        .into()),
        tint.prop_map(|(offsets, shadow, highlight, [keep_grey, keep_luminance])| {
            TintSettings {
                shadows: offsets.0.map(|v| v * 0.1),
                highlights: offsets.1.map(|v| v * 0.1),
                shadow_start: if keep_grey { shadow.0.min(0.0) } else { shadow.0 },
                shadow_width: shadow.1.max(2.0),
                highlight_start: if keep_grey { highlight.0.max(0.0) } else { highlight.0 },
                highlight_width: highlight.1.max(2.0),
                keep_grey,
                keep_luminance,
            }
            .into()
        }),
        (three(compress::LIMITS), three(compress::THRESHOLDS), any_of(compress::POWER))
            .prop_map(|(limits, thresholds, power)| CompressSettings { limits, thresholds, power }.into()),
        cube(space().prop_map(Gives::scene), any_of(cube::STRENGTH)),
    ]
    .boxed()
}

fn rendering() -> BoxedStrategy<Settings> {
    use parameters::*;
    let greys = || (any_of(GREY), any_of(CONTRAST), any_of(TOE), any_of(SHOULDER), any_of(BLACK));
    let names: Vec<&str> = VARIANTS.iter().map(|v| v.name).collect();
    let colours = (any_of(COLOUR), any_of(HUE), any_of(CROSSTALK));
    let print = (select(names), option::of(greys()), colours, three(LIGHTS), any_of(KELVIN), any_of(FLARE));
    prop_oneof![
        print.prop_map(|(name, greys, (colour, hue, crosstalk), lights, kelvin, flare)| {
            let base = PrintSettings::named(name).unwrap();
            let base = PrintSettings { colour, hue, crosstalk, lights, kelvin, flare, ..base };
            match greys {
                Some((grey, contrast, toe, shoulder, black)) => {
                    PrintSettings { grey, contrast, toe, shoulder, black, ..base }.into()
                }
                None => base.into(),
            }
        }),
        (greys(), any::<bool>()).prop_map(|((grey, contrast, toe, shoulder, black), per_channel)| {
            ToneSettings { grey, contrast, toe, shoulder, black, per_channel }.into()
        }),
        cube(select(vec![Gives::display("bt709"), Gives::display("bt2100-pq")]), Just(1.0).boxed()),
    ]
    .boxed()
}

/// A step or a rendering of settings that name `files`.
fn made<T>(
    settings: Settings,
    files: &BTreeMap<String, Vec<u8>>,
    make: fn(Settings, &dyn Context) -> Result<T, Refusals>,
) -> Result<T, Refusals> {
    let recorder = Recorder::new(files);
    make(settings, &Named::new("", &recorder))
}

fn looks() -> impl Strategy<Value = Look> {
    let title = "[A-Za-z0-9\"'\\\\ äß,-]{0,20}[A-Za-z]";
    (title, 1u32.., vec(scene(), 0..5), rendering(), "[a-z# ]{0,12}").prop_filter_map(
        "steps that the maths refuses",
        |(title, revision, steps, rendering, note)| {
            let files = files();
            let steps: Result<Vec<Step>, _> = steps.into_iter().map(|s| made(s, &files, Step::with)).collect();
            let rendering = made(rendering, &files, Rendering::with).ok()?;
            Some(Look::new(title, revision, steps.ok()?, rendering).with_note(&note))
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn what_is_built_is_what_is_written_and_read(look in looks()) {
        let text = look::to_toml(&look);
        let read = look::parse("look.toml", &text, &files());
        let read = read.unwrap_or_else(|problems| panic!("{text}\n{problems}"));
        prop_assert_eq!(&read, &look, "{}", text);
        prop_assert_eq!(look::to_toml(&read), text);
        prop_assert_eq!(Draft::from(&read), Draft::from(&look));
        prop_assert_eq!(read.sentences(), look.sentences());
        let signal = [0.3, 0.2, 0.1];
        for (a, b) in read.steps().iter().zip(look.steps()) {
            prop_assert_eq!(a.apply(signal), b.apply(signal));
        }
    }
}

/// The looks that we ship, read, written and read again.
#[test]
fn the_demo_survives_being_written() {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../fixtures/demo");
    for file in ["looks/day.toml", "looks/night.toml", "revisions/night-2.toml"] {
        let text = std::fs::read_to_string(folder.join(file)).unwrap();
        let look = look::parse(file, &text, &BTreeMap::new()).unwrap();
        let written = look::to_toml(&look);
        let again = look::parse(file, &written, &BTreeMap::new()).unwrap_or_else(|e| panic!("{written}\n{e}"));
        assert_eq!(again, look);
        assert_eq!(Draft::from(&again), Draft::from(&look), "{file}");
    }
}
