//! A chain as it may be: what happens to the signal before a cube, which cube is read and how, and what happens after it.
//!
//! A chain is a list of [`Fault`]s; without any it is the right one. Each fault has one place on the path, and faults of
//! one place exclude each other. Signals are 0 to 1; what a fault takes beyond is clipped, as integers clip.
//!
//! | fault | source |
//! | --- | --- |
//! | legal and full range | ITU-R BT.709-6, table 4; BT.2100-2, table 9 |
//! | matrices | ITU-R BT.601-7, BT.709-6, BT.2020-2 |
//! | gamma 2.4 | ITU-R BT.1886 |
//! | gammas 1.96 and 2.2 | common practice, no source |
//! | sRGB | IEC 61966-2-1:1999 |

use crate::apply::planes::{BT601, BT709, BT2020, Weights};
use crate::camera::Range;
use crate::math::{pow, powers};
use crate::transfer::{Transfer, srgb::Srgb};

type Rgb = [f64; 3];

/// The swing of colour difference in legal range over that of luma: 224 to 219 (ITU-R BT.709-6).
const CHROMA: f64 = 224.0 / 219.0;

/// A change of range.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Levels {
    /// Full range becomes legal range: 0..1 to 64..940.
    Squeezed,
    /// Legal range becomes full range: 64..940 to 0..1; what lies beyond clips.
    Stretched,
    /// Squeezed two times.
    SqueezedTwice,
    /// Stretched two times.
    StretchedTwice,
}

impl Levels {
    /// All of them.
    pub const ALL: [Self; 4] = [Self::Squeezed, Self::Stretched, Self::SqueezedTwice, Self::StretchedTwice];

    fn apply(self, form: Form, rgb: Rgb) -> Rgb {
        let swing = |v: f64| match form {
            Form::Rgb => 1.0,
            Form::Luma => v,
        };
        // What luma and RGB do, and how much less colour does.
        let squeeze = |rgb: Rgb| saturated(swing(CHROMA), rgb.map(|v| Range::Legal.encode(v)));
        let stretch =
            |rgb: Rgb| saturated(swing(1.0 / CHROMA), rgb.map(|v| Range::Legal.decode(v))).map(|v| v.clamp(0.0, 1.0));
        match self {
            Self::Squeezed => squeeze(rgb),
            Self::Stretched => stretch(rgb),
            Self::SqueezedTwice => squeeze(squeeze(rgb)),
            Self::StretchedTwice => stretch(stretch(rgb)),
        }
    }
}

/// In what form a range was changed: colour difference has another swing than luma and RGB have.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Form {
    /// Red, green and blue.
    Rgb,
    /// Luma and colour difference of BT.709.
    Luma,
}

impl Form {
    /// Both.
    pub const ALL: [Self; 2] = [Self::Rgb, Self::Luma];
}

/// A matrix of luma and colour difference.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Matrix {
    /// ITU-R BT.601-7.
    Bt601,
    /// ITU-R BT.709-6.
    Bt709,
    /// ITU-R BT.2020-2.
    Bt2020,
}

impl Matrix {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Bt601, Self::Bt709, Self::Bt2020];

    /// As the standard is called.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Bt601 => "BT.601",
            Self::Bt709 => "BT.709",
            Self::Bt2020 => "BT.2020",
        }
    }

    /// Weights of red and blue in luma.
    pub const fn weights(self) -> Weights {
        match self {
            Self::Bt601 => BT601,
            Self::Bt709 => BT709,
            Self::Bt2020 => BT2020,
        }
    }
}

/// Luma of a signal.
fn luma([red, blue]: Weights, [r, g, b]: Rgb) -> f64 {
    red * r + (1.0 - red - blue) * g + blue * b
}

/// A signal whose distance from grey is multiplied.
fn saturated(amount: f64, rgb: Rgb) -> Rgb {
    if amount == 1.0 {
        return rgb;
    }
    let grey = luma(BT709, rgb);
    rgb.map(|v| grey + amount * (v - grey))
}

/// A signal made into luma and colour differences by one matrix, and back by another.
fn rematrixed(made: Matrix, read: Matrix, rgb: Rgb) -> Rgb {
    let [mr, mb] = made.weights();
    let [rr, rb] = read.weights();
    let y = luma([mr, mb], rgb);
    let (cb, cr) = ((rgb[2] - y) / (2.0 * (1.0 - mb)), (rgb[0] - y) / (2.0 * (1.0 - mr)));
    let (r, b) = (y + 2.0 * (1.0 - rr) * cr, y + 2.0 * (1.0 - rb) * cb);
    [r, (y - rr * r - rb * b) / (1.0 - rr - rb), b]
}

/// A transfer that players and screens are tagged with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tag {
    /// A power of 1.96.
    Gamma196,
    /// A power of 2.2.
    Gamma22,
    /// A power of 2.4.
    Gamma24,
    /// IEC 61966-2-1.
    Srgb,
}

impl Tag {
    /// All of them.
    pub const ALL: [Self; 4] = [Self::Gamma196, Self::Gamma22, Self::Gamma24, Self::Srgb];

    /// In words.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Gamma196 => "gamma 1.96",
            Self::Gamma22 => "gamma 2.2",
            Self::Gamma24 => "gamma 2.4",
            Self::Srgb => "sRGB",
        }
    }

    fn power(self) -> Option<f64> {
        match self {
            Self::Gamma196 => Some(1.96),
            Self::Gamma22 => Some(2.2),
            Self::Gamma24 => Some(2.4),
            Self::Srgb => None,
        }
    }

    /// A signal read as this transfer and sent as another.
    fn sent_as(self, other: Self, rgb: Rgb) -> Rgb {
        let rgb = rgb.map(|v| v.clamp(0.0, 1.0));
        let [r, g, b] = rgb;
        if r == g && g == b {
            return [self.grey_sent_as(other, r); 3];
        }
        if let (Some(a), Some(b)) = (self.power(), other.power()) {
            return powers(rgb, [a / b; 3]);
        }
        let light = self.power().map_or_else(|| rgb.map(|v| Srgb.decode(v)), |p| powers(rgb, [p; 3]));
        other.power().map_or_else(|| light.map(|v| Srgb.encode(v)), |p| powers(light, [1.0 / p; 3]))
    }

    /// The same of one channel.
    fn grey_sent_as(self, other: Self, v: f64) -> f64 {
        if let (Some(a), Some(b)) = (self.power(), other.power()) {
            return pow(v, a / b);
        }
        let light = self.power().map_or_else(|| Srgb.decode(v), |p| pow(v, p));
        other.power().map_or_else(|| Srgb.encode(light), |p| pow(light, 1.0 / p))
    }
}

/// How eight bits are made of more.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Rounding {
    /// The nearest of 256 levels over the whole range.
    Nearest,
    /// The two low bits of ten are dropped.
    Cut,
    /// Dithered, so that the mean of many pixels is as before.
    Dithered,
}

/// What happens to a signal on one side of the cube.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Change {
    /// Made by one matrix and read by another.
    Matrix(Matrix, Matrix),
    /// Another range.
    Levels(Levels, Form),
    /// Channels in another order: red, green and blue are those of these numbers.
    Order([usize; 3]),
    /// Read as one transfer and sent as another.
    Tag(Tag, Tag),
    /// Clipped to the codes 64 to 940.
    Clamp,
    /// A saturation knob: 1 is none.
    Saturation(f64),
    /// A gain knob: 1 is none.
    Gain(f64),
    /// A lift knob, added to the signal: 0 is none.
    Lift(f64),
    /// Eight bits.
    Eight(Rounding),
}

/// Orders of channels but the right one.
const ORDERS: [[usize; 3]; 5] = [[2, 1, 0], [1, 0, 2], [0, 2, 1], [1, 2, 0], [2, 0, 1]];

impl Change {
    /// Every change without an amount.
    pub fn plain() -> Vec<Self> {
        let mut all: Vec<Self> =
            Form::ALL.into_iter().flat_map(|form| Levels::ALL.map(|levels| Self::Levels(levels, form))).collect();
        let pairs = |a: usize, n: usize| (0..n).filter(move |b| *b != a).map(move |b| (a, b));
        all.extend((0..3).flat_map(|a| pairs(a, 3)).map(|(a, b)| Self::Matrix(Matrix::ALL[a], Matrix::ALL[b])));
        all.extend(ORDERS.map(Self::Order));
        all.extend((0..4).flat_map(|a| pairs(a, 4)).map(|(a, b)| Self::Tag(Tag::ALL[a], Tag::ALL[b])));
        all.extend([Self::Clamp, Self::Eight(Rounding::Nearest), Self::Eight(Rounding::Cut)]);
        all
    }

    /// Where on its side it happens: changes of one place exclude each other.
    pub const fn place(self) -> u8 {
        match self {
            Self::Matrix(..) => 0,
            Self::Levels(..) => 1,
            Self::Order(_) => 2,
            Self::Tag(..) => 3,
            Self::Clamp => 4,
            Self::Saturation(_) => 5,
            Self::Gain(_) => 6,
            Self::Lift(_) => 7,
            Self::Eight(_) => 8,
        }
    }

    /// The signal after it, clipped to 0..1.
    pub fn apply(self, rgb: Rgb) -> Rgb {
        let out = match self {
            Self::Matrix(made, read) => rematrixed(made, read, rgb),
            Self::Levels(levels, form) => levels.apply(form, rgb),
            Self::Order(order) => order.map(|c| rgb[c]),
            Self::Tag(made, sent) => made.sent_as(sent, rgb),
            Self::Clamp => rgb.map(|v| v.clamp(64.0 / 1023.0, 940.0 / 1023.0)),
            Self::Saturation(amount) => saturated(amount, rgb),
            Self::Gain(gain) => rgb.map(|v| v * gain),
            Self::Lift(lift) => rgb.map(|v| v + lift),
            Self::Eight(Rounding::Nearest) => rgb.map(|v| (v * 255.0).round() / 255.0),
            Self::Eight(Rounding::Dithered) => rgb,
            Self::Eight(Rounding::Cut) => rgb.map(|v| ((v * 1023.0 + 1e-6).floor() / 4.0).floor() / 255.0),
        };
        out.map(|v| v.clamp(0.0, 1.0))
    }

    /// Whether two changes are the same but for their amount, the form of the signal, and how eight bits are rounded.
    pub fn is_like(self, other: Self) -> bool {
        match (self, other) {
            (Self::Saturation(_), Self::Saturation(_))
            | (Self::Gain(_), Self::Gain(_))
            | (Self::Lift(_), Self::Lift(_))
            | (Self::Eight(_), Self::Eight(_)) => true,
            (Self::Levels(a, _), Self::Levels(b, _)) => a == b,
            _ => self == other,
        }
    }
}

/// Which cube is read where it is not the expected one alone. Numbers are places in the [`Bank`](super::bank::Bank).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Loaded {
    /// None: the camera's signal goes through.
    None,
    /// Another one.
    Other(usize),
    /// The expected one two times.
    Twice,
    /// Another one, and then the expected one.
    Before(usize),
}

/// What is not as it should be in a chain.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Fault {
    /// Before the cube.
    Input(Change),
    /// The cube itself.
    Cube(Loaded),
    /// The nearest node is taken, without interpolation.
    Nearest,
    /// So many points of the cube are used along each edge.
    Points(usize),
    /// The cube is read as if it reached over signals of 0 to 1, whatever domain it states.
    Domain,
    /// After the cube.
    Output(Change),
}

impl Fault {
    /// Where on the path it is: faults of one place exclude each other.
    pub const fn place(self) -> u8 {
        match self {
            Self::Input(change) => change.place(),
            Self::Cube(_) => 20,
            Self::Nearest => 21,
            Self::Points(_) => 22,
            Self::Domain => 23,
            Self::Output(change) => 40 + change.place(),
        }
    }

    /// Whether two faults are the same but for their amount.
    pub fn is_like(self, other: Self) -> bool {
        match (self, other) {
            (Self::Input(a), Self::Input(b)) | (Self::Output(a), Self::Output(b)) => a.is_like(b),
            _ => self == other,
        }
    }
}

/// Signals after the changes that come after the cube.
pub(super) fn after(faults: &[Fault], signals: &[Rgb]) -> Vec<Rgb> {
    let changes = in_order(faults.iter().filter_map(|f| if let Fault::Output(c) = f { Some(*c) } else { None }));
    signals.iter().map(|rgb| changed(&changes, *rgb)).collect()
}

/// Changes of one side in the order of their places.
pub(super) fn in_order(changes: impl Iterator<Item = Change>) -> Vec<Change> {
    let mut changes: Vec<Change> = changes.collect();
    changes.sort_by_key(|c| c.place());
    changes
}

pub(super) fn changed(changes: &[Change], rgb: Rgb) -> Rgb {
    changes.iter().fold(rgb, |rgb, change| change.apply(rgb))
}
