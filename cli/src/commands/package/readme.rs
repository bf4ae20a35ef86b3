//! The README of a hand-off, in plain words for the colourist.

use super::collect::Parcel;
use crate::output::wrap;
use rushlight::bake::Options;
use rushlight::cube::Reader;
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

pub(super) fn readme(show: &Show, parcel: &Parcel, options: &Options<'_>) -> String {
    let mut page = Page::default();
    page.head(&format!("{}: the look, handed on", show.title()));
    page.say(
        "This folder holds the look of the show as it was seen on set, in open formats: cubes and CLFs that any \
         program reads, the corrections of the shots by the ASC CDL, and the documents in plain text that all of it \
         is made from. Nothing in it is baked into the footage.",
    );
    order(&mut page, show);
    expects(&mut page, show);
    looks(&mut page, show);
    gives(&mut page, show);
    shots(&mut page, show);
    files(&mut page, show, parcel);
    strays(&mut page, parcel, options);
    held(&mut page, parcel);
    if !parcel.notes.is_empty() {
        page.head("Mind");
        parcel.notes.iter().for_each(|note| page.item("- ", note));
    }
    page.head("Is it whole?");
    page.say("In this folder, either of");
    page.gap();
    page.say("    sha256sum -c SHA256SUMS");
    page.say("    rushlight package --verify .");
    page.gap();
    page.say("names every file that is missing or not as it was sent.");
    page.0
}

fn order(page: &mut Page, show: &Show) {
    page.head("In what order");
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
    page.say(
        "A cube in cubes/ is the whole way from the camera's signal to the display's, without a shot's correction; one \
         in shots/ has it in it. Put no other conversion before or after them, and do not apply a CDL and a cube of \
         shots/ one over the other: the correction would be there twice.",
    );
}

fn expects(page: &mut Page, show: &Show) {
    page.head("What the look expects");
    for (name, camera) in show.cameras() {
        let label = if camera.label == *name { String::new() } else { format!("{}: ", camera.label) };
        page.item(&format!("{name}  "), &format!("{label}{}", camera.terms));
    }
    page.gap();
    page.say(
        "Range is that of the signal which enters the cube: a full-range cube on a legal-range signal lifts blacks and \
         clips whites, and nothing on the monitor says so. Mid-grey is 0.18 of scene light.",
    );
}

fn looks(page: &mut Page, show: &Show) {
    page.head("The looks");
    for (name, entry) in show.looks() {
        let look = &entry.item;
        let steps: Vec<&str> =
            look.steps().iter().map(|s| s.name()).chain(std::iter::once(look.rendering().name())).collect();
        let said = format!("{}, revision {}: {}", look.title(), look.revision(), steps.join(", "));
        page.item(&format!("{name}  "), &format!("{said}; documents/ has every number"));
    }
    page.gap();
    page.say(
        "The steps work on scene light, linear ACES AP1, in that order, the same for every camera and display; the last \
         one gives the display's light.",
    );
}

fn gives(page: &mut Page, show: &Show) {
    page.head("What it gives");
    for (name, display) in show.displays() {
        let label = if display.label == *name { String::new() } else { format!("{}: ", display.label) };
        page.item(&format!("{name}  "), &format!("{label}{}", display.terms));
    }
    page.gap();
    page.say("The last word of a file's name before its points is the display that it is for.");
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
    page.say(&format!("{}. A CDL file does not say this: pass it on with them.", show.grading().words()));
}

fn files(page: &mut Page, show: &Show, parcel: &Parcel) {
    page.head("What is here");
    for (folder, what, _) in parcel.folders() {
        page.item(&format!("{folder:<12}"), what);
    }
    page.item(&format!("{:<12}", "manifest"), "manifest.json: each file, its size, its checksum, what it is of");
    page.gap();
    page.say(&format!(
        "The files in amf/ are ACES Metadata Files, version 2 (Academy S-2019-001). An AMF speaks of transforms from and to \
         ACES2065-1, so they point to the three parts in aces/: camera to ACES, the steps of the look, and its rendering on \
         the display. Of {}, documents/ is the source: `rushlight bake` makes every cube from it again, to the byte.",
        show.title()
    ));
}

/// What the stress test says, where there was one.
fn held(page: &mut Page, parcel: &Parcel) {
    if parcel.grades.is_empty() {
        return;
    }
    page.head("What breaks it");
    page.say("Each look, through each camera to each display, was searched for what breaks it:");
    page.gap();
    for (name, grade) in &parcel.grades {
        page.item("- ", &format!("{name}: {}", grade.name()));
    }
    page.gap();
    page.say(
        "What does not hold is in reports/, with the light that shows it and what one would see. Shots were not \
         searched. A search proves what it finds, never that there is nothing else.",
    );
}

fn strays(page: &mut Page, parcel: &Parcel, options: &Options<'_>) {
    page.head("How true it is");
    let reader = match options.reader {
        Reader::Either => "tetrahedral or trilinear, whichever is worse".to_owned(),
        one => one.name().to_owned(),
    };
    page.say(
        "A cube is an approximation of the look; the documents are the look. Between its nodes each was compared with \
         the exact path, on 20000 colours that a camera meets:",
    );
    page.gap();
    let mut worst: BTreeMap<&str, (f64, f64)> = BTreeMap::new();
    for (formula, mean, max) in &parcel.strays {
        let entry = worst.entry(formula).or_default();
        *entry = (entry.0.max(*mean), entry.1.max(*max));
    }
    for (formula, (mean, max)) in worst {
        page.item("- ", &format!("{formula}, the worst cube: {mean:.2} in the mean, {max:.2} at most ({reader})"));
    }
    let parts = |pick: fn(&(String, f64, f64)) -> f64| parcel.parts_stray.iter().map(pick).fold(0.0, f64::max);
    page.item(
        "- ",
        &format!(
            "the three parts in aces/, one after the other: {:.2} in the mean, {:.2} at most, of the worst AMF. For the \
             picture itself take the cubes or the CLFs in cubes/ and shots/.",
            parts(|p| p.1),
            parts(|p| p.2)
        ),
    );
    page.gap();
    page.say(
        "The parts stray more than the cubes, since each of them spans all of ACEScct and two tables follow one another. \
         The steps of a look that begins with compress hold every light that there is: they are a table over AP0, where no \
         light lies below zero. What is beyond a table is brought to its end: signals that no light makes, of noise or of a \
         clipped channel in a wide camera gamut; light over 223; and, in a look that does not begin with compress, \
         whatever of a light is under -0.007 in AP1, as green is of a neon blue.",
    );
    page.gap();
    page.say(
        "A cube is not a light meter. The exposure cubes in exposure/ hold for one camera, one exposure index and one \
         range each; the stop tables say what the signal means under the named curve, not what a sensor did. Look at \
         them on your own camera and monitor first.",
    );
}
