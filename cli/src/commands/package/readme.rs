//! The README of a hand-off, in plain words for the colourist.

use super::CHAIN;
use super::collect::Parcel;
use crate::output::wrap;
use rushlight::bake::Options;
use rushlight::cube::Reader;
use rushlight::difference::Formula;
use rushlight::shot::Order;
use rushlight::show::Show;
use std::collections::BTreeMap;

/// Columns of the text.
const WIDTH: usize = 78;

/// Lines of text, wrapped.
#[derive(Default)]
struct Page(String);

impl Page {
    fn head(&mut self, title: &str) {
        let before = if self.0.is_empty() { "" } else { "\n" };
        self.0 += &format!("{before}{title}\n{}\n\n", "=".repeat(title.chars().count()));
    }

    fn say(&mut self, text: &str) {
        self.item("", text);
    }

    /// Text beside a mark, which later lines leave room for.
    fn item(&mut self, mark: &str, text: &str) {
        let indent = mark.chars().count();
        for (i, line) in wrap(text, WIDTH - indent).iter().enumerate() {
            let front = if i == 0 { mark.to_owned() } else { " ".repeat(indent) };
            self.0 += format!("{front}{line}").trim_end();
            self.0.push('\n');
        }
    }

    fn gap(&mut self) {
        self.0.push('\n');
    }
}

/// Measurements of the cameras: what was measured, when, and by which frames.
fn measured(page: &mut Page, show: &Show) {
    let all: Vec<_> =
        show.cameras().keys().flat_map(|name| show.measured(name).iter().map(move |m| (name, m))).collect();
    if all.is_empty() {
        return;
    }
    page.head("Measurements of the cameras");
    for (name, one) in all {
        page.item(&format!("{name:<12}"), &format!("{}: {}", one.title(), one.by()));
    }
}

/// `name` is that of the show's file.
pub(super) fn readme(show: &Show, name: &str, parcel: &Parcel, options: &Options<'_>) -> String {
    let mut page = Page::default();
    page.head(&format!("{}: hand-off of the look", show.title()));
    page.say(&format!(
        "This folder holds the look of the show as it was seen on set, in open formats: cubes and CLFs that any \
         program reads{}, and the documents in plain text that all of it is made from. The recorded clips do \
         not have the look in them.",
        if show.shots().is_empty() { "" } else { ", the corrections of the shots by the ASC CDL" }
    ));
    if !show.production().lines().is_empty() {
        page.head("Who and when");
        for (name, said) in show.production().lines() {
            page.item(&format!("{name:<12}"), said);
        }
    }
    measured(&mut page, show);
    order(&mut page, show);
    expects(&mut page, show);
    looks(&mut page, show);
    gives(&mut page, show);
    shots(&mut page, show);
    files(&mut page, show, name, parcel, options);
    chain(&mut page, document(name, parcel));
    errors(&mut page, parcel, options);
    held(&mut page, parcel);
    if !parcel.notes.is_empty() {
        page.head("Notes");
        parcel.notes.iter().for_each(|note| page.item("- ", note));
    }
    page.head("Verifying the files");
    page.say("In this folder, run one of");
    page.gap();
    page.say("    sha256sum -c SHA256SUMS");
    page.say("    rushlight package --verify .");
    page.gap();
    page.say("It names every file that is missing or has changed.");
    page.0
}

fn order(page: &mut Page, show: &Show) {
    page.head("Order of operations");
    let mut steps = vec!["the camera's log signal".to_owned()];
    let cdl = format!("the shot's CDL ({})", show.grading().words());
    let look = "the look, which ends in the display's signal".to_owned();
    match (show.shots().is_empty(), show.grading().order()) {
        (true, _) => steps.push(look),
        (false, Order::Before) => steps.extend([cdl, look]),
        (false, Order::AfterCompress) => {
            steps.extend([
                "the look's first step, compress".to_owned(),
                cdl,
                "the rest of the look, which ends in the display's signal".to_owned(),
            ]);
        }
        (false, Order::After) => steps.extend([look, cdl]),
    }
    steps.push("the display".to_owned());
    for (i, step) in steps.iter().enumerate() {
        page.item(&format!("{}. ", i + 1), step);
    }
    page.gap();
    page.say(if show.shots().is_empty() {
        "Load the cube in cubes/ of your camera and your display. It converts the camera's signal to the display's signal. Put no \
         other conversion before or after it."
    } else {
        "Load first: for a shot with a correction, its cube in shots/; for everything else, the cube in cubes/. A cube in \
         cubes/ converts the camera's signal to the display's signal, without the correction of a shot; a cube in shots/ \
         includes it. Put no other conversion before or after them, and do not apply a CDL together with a cube of \
         shots/: the correction would be applied twice."
    });
}

fn expects(page: &mut Page, show: &Show) {
    page.head("Input: the cameras");
    for (name, camera) in show.cameras() {
        let label = if camera.label == *name { String::new() } else { format!("{}: ", camera.label) };
        page.item(&format!("{name}  "), &format!("{label}{}", camera.id));
    }
    page.gap();
    page.say(
        "The range is that of the signal at the input of the cube. A full-range cube on a legal-range signal lifts blacks \
         and darkens whites; a legal-range cube on a full-range signal crushes blacks and clips whites. Nothing on the \
         monitor shows the mistake. Mid-grey is 0.18 of scene light.",
    );
}

fn looks(page: &mut Page, show: &Show) {
    page.head("The looks");
    for (name, entry) in show.looks() {
        let look = &entry.item;
        let steps: Vec<&str> =
            look.steps().iter().map(|s| s.name()).chain(std::iter::once(look.rendering().name())).collect();
        let said = format!("{}, revision {}: {}", look.title(), look.revision(), steps.join(", "));
        page.item(&format!("{name}  "), &format!("{said}; see documents/ for the numbers"));
    }
    page.gap();
    page.say(
        "The steps work on scene-linear light in ACES AP1, in that order, the same for every camera and display. The last \
         step is the rendering, which gives display light.",
    );
}

fn gives(page: &mut Page, show: &Show) {
    page.head("Output: the displays");
    for (name, display) in show.displays() {
        let label = if display.label == *name { String::new() } else { format!("{}: ", display.label) };
        page.item(&format!("{name}  "), &format!("{label}{}", display.id));
    }
    page.gap();
    page.say("In the name of a cube, the word before the number of points is its display.");
}

fn shots(page: &mut Page, show: &Show) {
    if show.shots().is_empty() {
        return;
    }
    page.head("The shots");
    for (name, shot) in show.shots() {
        let of = |what: &str, name: &Option<String>| name.as_ref().map(|n| format!(", {what} {n}")).unwrap_or_default();
        let said = format!("{}{}{}", shot.numbers, of("look", &shot.look), of("camera", &shot.camera));
        page.item(&format!("{name}  "), &said);
    }
    page.gap();
    page.say(&format!("{}. A CDL file cannot state this: pass it on with the file.", show.grading().words()));
}

/// Where the show's document, of that name, is in the hand-off.
fn document<'p>(name: &str, parcel: &'p Parcel) -> &'p str {
    let mut all = parcel.records.iter().map(|r| r.file.as_str());
    all.find(|file| file.starts_with("documents/") && file.rsplit('/').next() == Some(name))
        .unwrap_or("documents/SHOW.toml")
}

fn files(page: &mut Page, show: &Show, name: &str, parcel: &Parcel, options: &Options<'_>) {
    page.head("Contents");
    for (folder, what, _) in parcel.folders() {
        let has_chain = folder == "reports/" && parcel.records.iter().any(|r| r.what == CHAIN);
        let more = if has_chain { ", and the check of the chain on set" } else { "" };
        page.item(&format!("{folder:<12}"), &format!("{what}{more}"));
    }
    page.item(&format!("{:<12}", "manifest"), "manifest.json: each file with its size, its checksum and its purpose");
    page.gap();
    page.say(&format!(
        "The files in amf/ are ACES Metadata Files, version 2 (Academy S-2019-001). An AMF lists transforms from and to \
         ACES2065-1, so they refer to the three parts in aces/: camera to ACES, the steps of the look, and its rendering on \
         the display. The source of {} is documents/. This command makes the files of cubes/ from it again, byte for byte{}:",
        show.title(),
        if show.shots().is_empty() { "" } else { ", and with --shots those of shots/" }
    ));
    page.gap();
    let fit = if options.fit { " --fit" } else { "" };
    let reader = match options.reader {
        reader if reader == Reader::default() => String::new(),
        reader => format!(" --for {}", reader.name()),
    };
    page.say(&format!("    rushlight bake {} --format cube,clf{fit}{reader}", document(name, parcel)));
}

/// Instructions for post to prove its chain.
fn chain(page: &mut Page, document: &str) {
    page.head("Is your chain the same?");
    page.say(
        "Load a frame of reference/ that ends in .tif: it is the signal of that camera. Put it through your chain, save the \
         signal that goes to the display as a 16-bit picture of the same size, and compare it with the .png whose name has your camera, your look, your display \
         and, if you loaded the cube of a shot, that shot. Its name ends like that of the .tif, such as `chart`:",
    );
    page.gap();
    page.say("    rushlight diff reference/EXPECTED.png YOURS.tif");
    page.gap();
    page.say(
        "The frame with `chart` in its name is a test chart. From its picture this command says what is wrong, such as a range, \
         an interpolation or another cube:",
    );
    page.gap();
    page.say(&format!("    rushlight chain check {document} --look LOOK --camera CAMERA \\"));
    page.say("        --display DISPLAY YOURS.tif");
    page.gap();
    page.say(
        "Without that program, look at both pictures side by side. If you see a difference, something in the chain is wrong. \
         The expected pictures are of the exact path; a cube differs from it by the error below.",
    );
}

/// The verdicts of the stress test, if there was one.
fn held(page: &mut Page, parcel: &Parcel) {
    if parcel.grades.is_empty() {
        return;
    }
    page.head("Stress test");
    page.say(
        "Each look was tested for faults, with each camera and display. The result is the worst of all its properties:",
    );
    page.gap();
    for (name, grade) in &parcel.grades {
        page.item("- ", &format!("{name}: {}", grade.name()));
    }
    page.gap();
    page.say(
        "`marginal` means that a figure lies between its two limits: look at it. `breaks` means that at least one exceeds its limit, often for one saturated light alone, such as a blue \
         LED; it does not mean that the look is unusable. reports/ names the light and the effect of each finding. Shots \
         were not tested. A search proves what it finds, never that there is nothing else.",
    );
}

fn errors(page: &mut Page, parcel: &Parcel, options: &Options<'_>) {
    page.head("Error against the exact path");
    let reader = match options.reader {
        Reader::Either => "tetrahedral or trilinear, whichever is worse".to_owned(),
        one => one.name().to_owned(),
    };
    page.say(
        "A cube is an approximation of the look. Each was compared with the exact path on 20000 colours that a camera meets. \
         An error of 1 is what a careful eye just sees side by side:",
    );
    page.gap();
    for (formula, mean, max) in worst(&parcel.strays) {
        let figures = format!("worst cube, {formula}: mean {mean:.2}, max {max:.2} ({reader})");
        page.item("- ", &format!("cubes for {}: {}; {figures}", displays_of(formula), verdict(mean, max)));
    }
    for (formula, mean, max) in worst(&parcel.parts_error) {
        let figures = format!("worst AMF, {formula}: mean {mean:.2}, max {max:.2}");
        let displays = displays_of(formula);
        page.item(
            "- ",
            &format!("the three parts in aces/ one after the other, for {displays}: {}; {figures}", verdict(mean, max)),
        );
    }
    page.gap();
    page.say(
        &format!(
            "For the picture itself use the cubes or the CLFs in cubes/{}: one file, one range, and nothing to put together.",
            if parcel.folders().iter().any(|(folder, ..)| *folder == "shots/") { " and shots/" } else { "" }
        ),
    );
    page.gap();
    let larger = |(formula, mean, max): &(&str, f64, f64)| {
        worst(&parcel.strays).any(|(other, m, x)| other == *formula && *mean > m && *max > x)
    };
    let parts: Vec<_> = worst(&parcel.parts_error).collect();
    if !parts.is_empty() && parts.iter().all(larger) {
        page.say(
            "The parts have larger errors than the cubes, since each of them spans all of ACEScct and two tables follow one \
             another.",
        );
        page.gap();
    }
    page.say(
        "The tables in aces/ cut three kinds of values: signals that no light makes, from noise or from a \
         clipped channel; scene light over 223 (mid-grey is 0.18); and, only if the look does not begin with compress, \
         values under -0.007 in AP1, such as the green channel of a blue neon light. If the look begins with compress, the table \
         of the look's steps takes AP0 light and covers every real light.",
    );
    page.gap();
    page.say(
        "A cube is not a light meter. The exposure cubes in exposure/ hold for one camera, one exposure index and one \
         range each, and for a BT.709 monitor of 100 nits in full range; the stop tables state what the signal means under the named curve, not what a sensor did. Test \
         them on your own camera and monitor first.",
    );
}

/// The displays whose errors are by a formula.
fn displays_of(formula: &str) -> &'static str {
    if formula == Formula::Ciede2000.title() { "SDR displays" } else { "HDR displays" }
}

/// The meaning of an error for the eye.
fn verdict(mean: f64, max: f64) -> &'static str {
    match (mean, max) {
        (_, max) if max < 1.0 => "no difference from the look can be seen",
        (mean, _) if mean < 0.5 => "no visible difference from the look, except in single colours seen side by side",
        (mean, _) if mean < 1.0 => {
            "close to the look: many colours differ by almost as much as the eye sees side by side"
        }
        _ => "visibly different from the look: do not judge the picture by them",
    }
}

/// The largest mean and the largest maximum by each formula, whose units differ.
fn worst(errors: &[(&'static str, f64, f64)]) -> impl Iterator<Item = (&'static str, f64, f64)> {
    let mut worst: BTreeMap<&str, (f64, f64)> = BTreeMap::new();
    for (formula, mean, max) in errors {
        let entry = worst.entry(formula).or_default();
        *entry = (entry.0.max(*mean), entry.1.max(*max));
    }
    worst.into_iter().map(|(formula, (mean, max))| (formula, mean, max))
}
