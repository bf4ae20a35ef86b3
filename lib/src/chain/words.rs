//! Faults in words: what is wrong, and what to do about it.

use super::bank::Bank;
use super::depth::Signal;
use super::model::{Change, Fault, Levels, Loaded, Rounding};

/// A fault in words.
pub(super) struct Said {
    /// A name for programs.
    pub(super) key: String,
    /// What is wrong, without a full stop.
    pub(super) what: String,
    /// What to do about it.
    pub(super) help: String,
}

/// Describes a fault of a chain whose cubes are those of a bank.
pub(super) fn fault(fault: Fault, bank: &Bank) -> Said {
    let said = |key: &str, what: String, help: &str| Said { key: key.to_owned(), what, help: help.to_owned() };
    let name = |i: usize| bank.cubes.get(i).map_or("another cube", |c| c.name.as_str());
    match fault {
        Fault::Input(change) => side("input", change),
        Fault::Output(change) => side("output", change),
        Fault::Cube(Loaded::None) => said(
            "no-cube",
            "No cube is applied: the camera's signal goes through".to_owned(),
            "Load the cube and switch it on; look for a bypass.",
        ),
        Fault::Cube(Loaded::Twice) => said(
            "cube-twice",
            "The cube is applied twice".to_owned(),
            "Two boxes have it, or the recording has it baked in: switch one of them off.",
        ),
        Fault::Cube(Loaded::Other(i)) => {
            said("other-cube", format!("Another cube is loaded: {}", name(i)), &format!("Load {} instead.", name(0)))
        }
        Fault::Cube(Loaded::Before(i)) => said(
            "cube-before",
            format!("Another cube is applied before the right one: {}", name(i)),
            "Switch it off in the camera, the app or the box before this one.",
        ),
        Fault::Nearest => said(
            "nearest",
            "The nearest node is taken, without interpolation".to_owned(),
            "Switch interpolation on, or use another box: this one shows steps that the cube does not have.",
        ),
        Fault::Domain => said(
            "domain",
            "The cube's domain is not read: it is taken as 0 to 1".to_owned(),
            "Bake the cube over 0 to 1: this box has no other domain.",
        ),
        Fault::Points(n) => said(
            &format!("points-{n}"),
            format!("Only {n} of {} points are used", bank.expected().points()),
            &format!("Bake {n} points for this box (points = {n}), so that you know the error of what it shows."),
        ),
    }
}

/// Describes a picture that is mirrored left to right, top to bottom, or both; `None` if it is upright.
pub(super) fn turned(flipped: [bool; 2]) -> Option<Said> {
    let (key, what, help) = match flipped {
        [false, false] => return None,
        [true, false] => (
            "picture-mirrored",
            "The picture is mirrored left to right",
            "Switch mirroring off in the monitor, the box or the app; where it is meant, as on a screen that is seen in a \
             mirror, write that into the binder.",
        ),
        [false, true] => (
            "picture-upside-down",
            "The picture is mirrored top to bottom",
            "Switch the vertical flip off in the monitor, the box or the app: left and right are as they should be, so \
             that turning the screen does not mend it.",
        ),
        [true, true] => (
            "picture-turned",
            "The picture is turned by 180 degrees",
            "Switch the flip of the monitor or the box off. Where the monitor hangs upside down and turns the picture for \
             that, write so into the binder, and see that no box behind it gets the turned picture.",
        ),
    };
    Some(Said { key: key.to_owned(), what: what.to_owned(), help: help.to_owned() })
}

fn side(side: &str, change: Change) -> Said {
    let is_input = side == "input";
    let at = if is_input { "before the cube" } else { "after the cube" };
    let (key, what, help): (&str, String, String) = match change {
        Change::Levels(levels, _) => ranged(levels, is_input),
        Change::Matrix(made, read) => (
            "matrix",
            format!("Made by the matrix of {} and read by that of {} {at}", made.name(), read.name()),
            "Set the same matrix in the sender and in the receiver, or tag the clip.".to_owned(),
        ),
        Change::Order(order) => {
            let names: Vec<&str> = order.iter().map(|c| ["red", "green", "blue"][*c]).collect();
            (
                "channels",
                format!("Channels are swapped {at}: red, green and blue are {}", names.join(", ")),
                if is_input {
                    "Look at how the box orders the axes of its cubes, and at the cables.".to_owned()
                } else {
                    "Look at how the box orders the values of its cubes, and at the cables.".to_owned()
                },
            )
        }
        Change::Tag(made, sent) => (
            "transfer",
            format!("The transfer is shifted {at}: taken for {} and sent as {}", made.name(), sent.name()),
            "A player or the system converts by tags: tag the clip as it is meant, or switch colour management off."
                .to_owned(),
        ),
        Change::Clamp => (
            "clipped",
            format!("The signal is clipped to 64 to 940 {at}"),
            if is_input {
                "Allow the whole range of codes at the input: blacks and highlights of the log are lost.".to_owned()
            } else {
                "Allow the whole range of codes at the output.".to_owned()
            },
        ),
        Change::Eight(rounding) => (
            "8-bits",
            format!("The signal has 8 bits{} {at}", if rounding == Rounding::Dithered { ", dithered," } else { "" }),
            if is_input {
                "Send 10 bits to the cube: 8 bits of log show bands after a look.".to_owned()
            } else {
                "Send 10 bits to the monitor, or know that bands may be the cable's.".to_owned()
            },
        ),
        Change::Saturation(amount) => ("saturation", format!("Saturation is at {amount:.2} {at}"), knob(is_input)),
        Change::Gain(amount) => ("gain", format!("Gain is at {amount:.3} {at}"), knob(is_input)),
        Change::Lift(amount) => ("lift", format!("Lift is at {:+.0} codes {at}", 1023.0 * amount), knob(is_input)),
    };
    Said { key: format!("{side}-{key}"), what, help }
}

fn knob(is_input: bool) -> String {
    let whose = if is_input { "the box's" } else { "the monitor's or the player's" };
    format!("Set {whose} knobs back to neutral.")
}

fn ranged(levels: Levels, is_input: bool) -> (&'static str, String, String) {
    let at = if is_input { "before the cube" } else { "after the cube" };
    match (levels, is_input) {
        (Levels::Stretched, true) => (
            "range-stretched",
            "Full-range signal into a legal-range input: it is stretched before the cube".to_owned(),
            "Set the box's input to full.".to_owned(),
        ),
        (Levels::Squeezed, true) => (
            "range-squeezed",
            "Full range is squeezed to legal range before the cube".to_owned(),
            "Set the output of the camera or the player to full; or bake with range = \"legal\" for this camera."
                .to_owned(),
        ),
        (Levels::Stretched, false) => (
            "range-stretched",
            "Legal range is stretched to full range after the cube".to_owned(),
            "Set the box's output or the monitor's input to full.".to_owned(),
        ),
        (Levels::Squeezed, false) => (
            "range-squeezed",
            "Full range is squeezed to legal range after the cube".to_owned(),
            "Set the box's output to full, or the monitor to legal; or bake with range = \"legal\" for this display."
                .to_owned(),
        ),
        (Levels::SqueezedTwice, _) => (
            "range-squeezed-twice",
            format!("Full range is squeezed to legal range twice {at}"),
            "Two devices convert: set both to full.".to_owned(),
        ),
        (Levels::StretchedTwice, _) => (
            "range-stretched-twice",
            format!("Legal range is stretched to full range twice {at}"),
            "Two devices convert: set both to full.".to_owned(),
        ),
    }
}

/// What the right chain is called when nothing is wrong, in a few words each.
pub(super) fn sound(interpolation: Option<&str>, bits: Option<u8>, signal: Option<Signal>) -> String {
    let mut words = vec!["Right cube".to_owned(), "right range".to_owned()];
    words.extend(interpolation.map(|kind| format!("{kind} interpolation")));
    words.push(match (bits, signal) {
        (Some(bits), _) if bits < 10 => format!("{bits} bits in the capture"),
        (_, Some(Signal { bits, dithered: true })) => format!("{bits} bits with dither"),
        (_, Some(Signal { bits, .. })) => format!("{bits} bits"),
        _ => "10 bits or more".to_owned(),
    });
    words.join(", ")
}
