//! Which file becomes which.

use crate::args::{Apply as Args, OnError};
use crate::disk::{Batch, Leftovers, check, folder_of, not_ours, says_ours};
use crate::failure::Failure;
use crate::ffmpeg::{CONTAINERS, Clip};
use crate::frames::is_still;
use rushlight::files::in_any_case;
use rushlight::frame::Format;
use rushlight::slate::Slate;
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::ops::{Range, RangeInclusive};
use std::path::{Path, PathBuf};

/// Most frames of one sequence.
const MOST: u64 = 10_000_000;

/// Which way the pictures go.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Direction {
    /// Stills become stills.
    Stills,
    /// Clips become clips.
    Clips,
    /// A sequence becomes one clip, which every item names.
    IntoClip,
    /// Clips become sequences: an item's output has a place for the number.
    OutOfClips,
}

impl Direction {
    /// What is read is clips.
    pub(super) const fn reads_clips(self) -> bool {
        matches!(self, Self::Clips | Self::OutOfClips)
    }

    /// What is written is clips.
    pub(super) const fn writes_clips(self) -> bool {
        matches!(self, Self::Clips | Self::IntoClip)
    }
}

/// One file to read, and what it becomes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Item {
    pub(super) input: PathBuf,
    pub(super) output: PathBuf,
    /// Its number in a sequence.
    pub(super) number: Option<u64>,
    /// It is not there: the sequence has a gap.
    pub(super) missing: bool,
}

/// A name with a number in it: `shot.####.exr`, `shot.%04d.exr`, or `shot.[1001-1100].exr`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Pattern {
    folder: PathBuf,
    before: String,
    digits: usize,
    after: String,
    range: Option<[u64; 2]>,
}

impl Pattern {
    /// The pattern in the name of a file; none where it has none, or is the name of a file that is there.
    pub(super) fn of(path: &Path) -> Result<Option<Self>, Failure> {
        let fail = |why: &str| Failure::new(format!("{}: {why}", path.display()));
        let Some(name) = path.file_name().and_then(|n| n.to_str()) else { return Ok(None) };
        if path.exists() {
            return Ok(None);
        }
        let folder = path.parent().unwrap_or(Path::new("")).to_owned();
        if let Some((at, end, digits)) = placeholder(name) {
            let (before, after) = (name[..at].to_owned(), name[end..].to_owned());
            if placeholder(&after).is_some() || after.contains('#') {
                return Err(fail("a name can have the frame number in one place only"));
            }
            return Ok(Some(Self { folder, before, digits, after, range: None }));
        }
        if let Some(at) = name.find('#') {
            let digits = name[at..].bytes().take_while(|b| *b == b'#').count();
            let (before, after) = (name[..at].to_owned(), name[at + digits..].to_owned());
            if after.contains('#') {
                return Err(fail("a name can have one run of # only, for the frame number"));
            }
            return Ok(Some(Self { folder, before, digits, after, range: None }));
        }
        let Some((before, (inside, after))) =
            name.split_once('[').and_then(|(before, rest)| Some((before, rest.split_once(']')?)))
        else {
            return Ok(None);
        };
        let Some((from, to)) = inside.split_once('-') else { return Ok(None) };
        let number = |text: &str| -> Option<u64> {
            text.parse().ok().filter(|_| text.bytes().all(|b| b.is_ascii_digit()) && text.len() < 19)
        };
        let (Some(first), Some(last)) = (number(from), number(to)) else { return Ok(None) };
        if first > last || last - first >= MOST {
            return Err(fail("a range goes from the lower number to the higher, such as [1001-1100]"));
        }
        let (before, after) = (before.to_owned(), after.to_owned());
        Ok(Some(Self { folder, before, digits: from.len(), after, range: Some([first, last]) }))
    }

    /// The file of a number.
    pub(super) fn file(&self, number: u64) -> PathBuf {
        self.folder.join(format!("{}{number:0width$}{}", self.before, self.after, width = self.digits))
    }

    /// The numbers of the sequence, and those of them whose files are there.
    fn numbers(&self) -> Result<(RangeInclusive<u64>, BTreeSet<u64>), Failure> {
        let folder = folder_of(Path::new(&self.folder).join("x").as_path()).to_owned();
        let listed = fs::read_dir(&folder)
            .map_err(|e| Failure::new(format!("cannot read the folder {}: {e}", folder.display())))?;
        let mut there = BTreeSet::new();
        for entry in listed {
            there.extend(entry?.file_name().to_str().and_then(|name| self.number_in(name)));
        }
        let range = match (self.range, there.first(), there.last()) {
            (Some([first, last]), ..) => first..=last,
            (None, Some(first), Some(last)) if last - first < MOST => *first..=*last,
            (None, Some(_), _) => return Err(Failure::new(format!("{}: numbers too far apart", self.shown()))),
            _ => return Err(Failure::new(format!("{}: no file has such a name", self.shown()))),
        };
        there.retain(|n| range.contains(n));
        if there.is_empty() {
            return Err(Failure::new(format!("{}: none of its frames is there", self.shown())));
        }
        Ok((range, there))
    }

    /// The number in a name that the pattern fits.
    fn number_in(&self, name: &str) -> Option<u64> {
        let text = name.strip_prefix(&*self.before)?.strip_suffix(&*self.after)?;
        let long = text.len() >= self.digits && text.bytes().all(|b| b.is_ascii_digit());
        // A number of more digits than the pattern has none to fill up with.
        let fits = long && (text.len() == self.digits || !text.starts_with('0'));
        text.parse().ok().filter(|_| fits)
    }

    fn shown(&self) -> String {
        let number = match self.range {
            Some([first, last]) => format!("[{first:0width$}-{last}]", width = self.digits),
            None => "#".repeat(self.digits),
        };
        self.folder.join(format!("{}{number}{}", self.before, self.after)).display().to_string()
    }
}

/// Where `%04d` or the like stands in a name, where it ends, and how many digits it has.
fn placeholder(name: &str) -> Option<(usize, usize, usize)> {
    name.match_indices('%').find_map(|(at, _)| {
        let digits: String = name[at + 1..].chars().take_while(char::is_ascii_digit).collect();
        let end = at + 1 + digits.len();
        let is_one = name[end..].starts_with('d') && (digits.is_empty() || digits.starts_with('0'));
        let wide = if digits.is_empty() { Some(1) } else { digits.parse().ok() };
        wide.filter(|wide| is_one && (1..=18).contains(wide)).map(|wide| (at, end + 1, wide))
    })
}

/// The numbers of a range that are missing, as runs: 1004, 1007-1009. Ranges may be much longer than what is there.
fn missing(range: &RangeInclusive<u64>, there: &BTreeSet<u64>) -> String {
    let mut runs: Vec<[u64; 2]> = Vec::new();
    let mut next = *range.start();
    for n in there {
        if *n > next {
            runs.push([next, n - 1]);
        }
        next = n + 1;
    }
    if next <= *range.end() {
        runs.push([next, *range.end()]);
    }
    let said = |[first, last]: &[u64; 2]| if first == last { first.to_string() } else { format!("{first}-{last}") };
    runs.iter().map(said).collect::<Vec<_>>().join(", ")
}

/// Whether a path is meant as a folder.
fn is_folder(path: &Path) -> bool {
    path.is_dir() || path.as_os_str().to_string_lossy().ends_with(['/', std::path::MAIN_SEPARATOR])
}

/// What a file is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    Still(Format),
    Clip,
}

pub(super) fn extension(path: &Path) -> &str {
    path.extension().and_then(|e| e.to_str()).unwrap_or("")
}

/// What a file of a name is written as.
pub(super) fn kind_of(path: &Path) -> Result<Kind, Failure> {
    let extension = extension(path);
    if let Some(format) = Format::from_extension(extension) {
        return Ok(Kind::Still(format));
    }
    if CONTAINERS.iter().any(|c| extension.eq_ignore_ascii_case(c)) {
        return Ok(Kind::Clip);
    }
    let known = Format::ALL.map(|f| f.extensions()[0]).join(", ");
    let why = if extension.is_empty() { "no extension".to_owned() } else { format!("`.{extension}` is unknown") };
    Err(Failure::new(format!("{}: {why}: stills end in {known}, clips in {}", path.display(), CONTAINERS.join(", "))))
}

/// Whether a file that is read is a clip: by its extension, or by how it begins.
fn is_clip(path: &Path) -> bool {
    Format::from_extension(extension(path)).is_none() && !is_still(path)
}

/// What one argument names.
enum Listed {
    One(PathBuf),
    /// The numbers of a sequence, and those of them that are there.
    Sequence(Pattern, RangeInclusive<u64>, BTreeSet<u64>),
}

/// A file to read, its number, and whether it is missing.
type Source = (PathBuf, Option<u64>, bool);

impl Listed {
    fn count(&self) -> usize {
        match self {
            Self::One(_) => 1,
            Self::Sequence(_, range, _) => usize::try_from(range.end() - range.start() + 1).unwrap_or(usize::MAX),
        }
    }

    fn at(&self, place: usize) -> Source {
        match self {
            Self::One(path) => (path.clone(), None, false),
            Self::Sequence(pattern, range, there) => {
                let n = range.start() + place as u64;
                (pattern.file(n), Some(n), !there.contains(&n))
            }
        }
    }

    /// The files that are there.
    fn there(&self) -> Vec<Source> {
        match self {
            Self::One(path) => vec![(path.clone(), None, false)],
            Self::Sequence(pattern, _, there) => there.iter().map(|n| (pattern.file(*n), Some(*n), false)).collect(),
        }
    }
}

/// Every file that `inputs` name, and what each becomes; nothing is written yet.
pub(super) fn plan(inputs: &[PathBuf], output: &Path, args: &Args) -> Result<(Vec<Item>, Direction), Failure> {
    let mut gaps = Vec::new();
    let mut all = Vec::new();
    for input in inputs {
        let Some(pattern) = Pattern::of(input)? else {
            if !input.exists() && input.to_string_lossy().contains(['*', '?']) {
                let why = "no file has a name like this; a sequence is written with ####, such as shot.####.exr";
                return Err(Failure::new(format!("{}: {why}", input.display())));
            }
            all.push(Listed::One(input.clone()));
            continue;
        };
        let (range, there) = pattern.numbers()?;
        let missing = missing(&range, &there);
        if !missing.is_empty() {
            gaps.push(format!("{}: missing frames: {missing}", pattern.shown()));
        }
        all.push(Listed::Sequence(pattern, range, there));
    }
    if !gaps.is_empty() && args.on_error == OnError::Stop {
        return Err(Failure::new(format!("{}; --on-error skip goes on without them", gaps.join("\n"))));
    }
    let there: Vec<Source> = all.iter().flat_map(Listed::there).collect();
    let Some(first) = there.first() else { return Ok((Vec::new(), Direction::Stills)) };
    let name = namer((&first.0, first.1), inputs, output, args)?;
    // What is there is looked at as a whole, whatever part of it is done here.
    let items: Vec<Item> = there.iter().cloned().map(&name).collect();
    let way = way(&items)?;
    apart(&items, way)?;
    if way == Direction::IntoClip && args.slice.is_some() {
        return Err(Failure::new("--slice: a clip is made in one piece"));
    }
    let counts: Vec<usize> = all.iter().map(Listed::count).collect();
    let part = slice(counts.iter().sum(), args.slice.as_deref())?;
    let mut items = Vec::with_capacity(part.len());
    let mut begins = 0;
    for (listed, count) in all.iter().zip(counts) {
        let own = part.start.max(begins)..part.end.min(begins + count);
        items.extend(own.map(|place| name(listed.at(place - begins))));
        begins += count;
    }
    Ok((items, way))
}

/// Which way all of them go.
fn way(items: &[Item]) -> Result<Direction, Failure> {
    let mut ways = Vec::new();
    for item in items {
        let still = || {
            Failure::new(format!(
                "{}: a clip is made of a sequence, such as shot.####.exr: {} is one still",
                item.output.display(),
                item.input.display()
            ))
        };
        ways.push(match (is_clip(&item.input), kind_of(&item.output)?) {
            (false, Kind::Still(_)) => Direction::Stills,
            (true, Kind::Clip) => Direction::Clips,
            (false, Kind::Clip) if item.number.is_none() => return Err(still()),
            (false, Kind::Clip) => Direction::IntoClip,
            (true, Kind::Still(_)) => Direction::OutOfClips,
        });
    }
    let way = ways.first().copied().unwrap_or(Direction::Stills);
    if ways.iter().any(|w| *w != way) {
        return Err(Failure::new("stills and clips do not go together: give them one after the other"));
    }
    Ok(way)
}

/// What gives every file its output; `first` is one that is there, with its number.
fn namer<'a>(
    first: (&Path, Option<u64>),
    inputs: &[PathBuf],
    output: &'a Path,
    args: &'a Args,
) -> Result<Box<dyn Fn(Source) -> Item + 'a>, Failure> {
    let fail = |why: &str| Failure::new(format!("{}: {why}", output.display()));
    let several = inputs.len() > 1;
    let has_place = |name: &str| name.contains('#') || placeholder(name).is_some();
    let no_name = |path: &Path| path.extension().is_none() && !path.exists() && !has_place(&path.to_string_lossy());
    if is_folder(output) || (several && no_name(output)) {
        let renamed = |input: &Path| -> PathBuf {
            let mut path = output.join(input.file_name().unwrap_or_default());
            if let Some(format) = &args.format {
                path.set_extension(format.trim_start_matches('.'));
            }
            // A clip has more pictures than one.
            if kind_of(&path).is_ok_and(|kind| matches!(kind, Kind::Still(_))) && is_clip(input) {
                path = path.with_extension(format!("####.{}", extension(&path)));
            }
            path
        };
        return Ok(Box::new(move |(input, number, missing)| Item { output: renamed(&input), input, number, missing }));
    }
    if args.format.is_some() {
        return Err(Failure::new("--format: only for a folder; the format of a file follows from its extension"));
    }
    if several {
        return Err(fail(
            "several inputs go into a folder: end it with /. A name or a text with a blank goes in quotes",
        ));
    }
    let to_stills = kind_of(output).is_ok_and(|kind| kind != Kind::Clip);
    let pattern = match (Pattern::of(output)?, first.1) {
        (Some(pattern), Some(_)) if pattern.range.is_none() => Some(pattern),
        (Some(_), Some(_)) => return Err(fail("what is written takes its numbers from what is read: write ####")),
        (Some(_), None) if is_clip(first.0) => None,
        (Some(_), None) => return Err(fail("a single picture has no number to put there")),
        (None, Some(_)) if kind_of(output).is_ok_and(|kind| kind == Kind::Clip) => None,
        (None, None) if to_stills && is_clip(first.0) => {
            // What is not called a clip may be none.
            if kind_of(first.0).is_err() {
                Clip::open(first.0)?;
            }
            return Err(fail("a clip is written to stills by a name with ####, such as out.####.png"));
        }
        (None, Some(_)) => return Err(fail("a sequence is written to a name with ####, such as out.####.png")),
        (None, None) => None,
    };
    Ok(Box::new(move |(input, number, missing)| {
        let output = pattern.as_ref().zip(number).map_or_else(|| output.to_owned(), |(p, n)| p.file(n));
        Item { input, output, number, missing }
    }))
}

/// Refuses outputs that are inputs, or each other.
fn apart(items: &[Item], way: Direction) -> Result<(), Failure> {
    let real = |path: &Path| {
        fs::canonicalize(path).unwrap_or_else(|_| {
            let folder = fs::canonicalize(folder_of(path)).unwrap_or_else(|_| folder_of(path).to_owned());
            folder.join(path.file_name().unwrap_or_default())
        })
    };
    let inputs: BTreeSet<PathBuf> = items.iter().map(|i| real(&i.input)).collect();
    let mut outputs: BTreeMap<(PathBuf, String), (PathBuf, &Path)> = BTreeMap::new();
    for item in items {
        let output = real(&item.output);
        if inputs.contains(&output) {
            let why = "it is read too: a picture is not written over what it is made of";
            return Err(Failure::new(format!("{}: {why}", item.output.display())));
        }
        let name = in_any_case(&output.file_name().unwrap_or_default().to_string_lossy());
        let known = outputs.insert((folder_of(&output).to_owned(), name), (output.clone(), &item.input));
        if let Some((place, other)) = known.filter(|_| way != Direction::IntoClip) {
            let elsewhere = if place == output { "" } else { " on systems that take names in any case" };
            return Err(Failure::new(format!(
                "{}: {} and {} would both be written there{elsewhere}",
                item.output.display(),
                other.display(),
                item.input.display()
            )));
        }
    }
    Ok(())
}

/// The part of so many that K/N names: parts of equal length, or one apart.
fn slice(count: usize, part: Option<&str>) -> Result<Range<usize>, Failure> {
    let Some(part) = part else { return Ok(0..count) };
    let parsed = part.split_once('/').and_then(|(k, n)| Some((k.parse::<usize>().ok()?, n.parse::<usize>().ok()?)));
    let Some((k, n)) = parsed.filter(|(k, n)| (1..=*n).contains(k)) else {
        return Err(Failure::new(format!("--slice: `{part}`: it must be K/N, such as 3/20, K from 1 to N")));
    };
    let share = |k: usize| (count as u128 * k as u128 / n as u128) as usize;
    Ok(share(k - 1)..share(k))
}

/// Makes the folders of what is to be written, and finds out now whether they can be written to, and whether each file may
/// be. What killed runs left half-written of them goes.
pub(super) fn prepare(items: &[Item], args: &Args) -> Result<(), Failure> {
    let mut folders: BTreeMap<&Path, BTreeSet<&Path>> = BTreeMap::new();
    for item in items {
        folders.entry(folder_of(&item.output)).or_default().insert(&item.output);
    }
    for (folder, outputs) in folders {
        Batch::new(folder)?;
        let mut left = Leftovers::of(folder);
        for output in outputs {
            check(output)?;
            check_ours(output, args)?;
            // Any number stands in the place for one.
            if let Some(pattern) = Pattern::of(output)? {
                left.clear_all(|name| pattern.number_in(name).is_some());
            }
            left.clear(output.file_name().unwrap_or_default());
        }
    }
    Ok(())
}

/// Refuses to replace a still or clip that this program did not make, unless the user says so.
pub(super) fn check_ours(path: &Path, args: &Args) -> Result<(), Failure> {
    if args.force || args.resume || !path.is_file() || says_ours(path) {
        return Ok(());
    }
    // Containers may hold the comment in another form than plain text.
    let comment = kind_of(path).is_ok_and(|kind| kind == Kind::Clip).then(|| Clip::open(path).ok()?.comment).flatten();
    if comment.is_some_and(|comment| Slate::parse(&comment).is_some()) {
        return Ok(());
    }
    Err(not_ours(path, "the last name is the file to write: give another name, or --force to replace it"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn patterns_are_read_as_they_are_written() {
        let of = |name: &str| Pattern::of(Path::new(name)).unwrap();
        let file = |name: &str, n| of(name).unwrap().file(n).display().to_string();
        assert_eq!(file("dailies/shot.####.exr", 7), "dailies/shot.0007.exr");
        assert_eq!(file("shot.####.exr", 123_456), "shot.123456.exr");
        assert_eq!(file("a_#.png", 12), "a_12.png");
        assert_eq!(file("shot.[0998-1003].exr", 1001), "shot.1001.exr");
        assert_eq!(of("shot.[0998-1003].exr").unwrap().range, Some([998, 1003]));
        assert!(of("shot.exr").is_none() && of("take[2].exr").is_none() && of("a[b-c].exr").is_none());
        assert_eq!(file("shot.%04d.exr", 7), "shot.0007.exr");
        assert_eq!(file("shot.%d.exr", 12), "shot.12.exr");
        assert_eq!(of("shot.%04d.exr").unwrap().number_in("shot.0012.exr"), Some(12));
        assert!(of("50%.exr").is_none() && of("a%4d.exr").is_none() && of("100%done.exr").is_some());
        for name in ["##.##.exr", "x[9-3].exr", "%04d.%04d.exr", "%d.####.exr"] {
            assert!(Pattern::of(Path::new(name)).is_err(), "{name}");
        }
    }

    #[test]
    fn slices_share_out_all_and_nothing_twice() {
        for n in [1, 2, 5, 23, 40] {
            let parts: Vec<Range<usize>> = (1..=n).map(|k| slice(23, Some(&format!("{k}/{n}"))).unwrap()).collect();
            assert!(parts.iter().cloned().flatten().eq(0..23));
            let (least, most) = (parts.iter().map(Range::len).min(), parts.iter().map(Range::len).max());
            assert!(most.unwrap() - least.unwrap() <= 1, "{n}");
        }
        for bad in ["0/3", "4/3", "3", "a/b", "1/0"] {
            assert!(slice(23, Some(bad)).is_err(), "{bad}");
        }
    }

    #[test]
    fn gaps_are_said_in_runs() {
        let there = BTreeSet::from([1003, 1005, 1006, 1010]);
        assert_eq!(missing(&(1003..=1011), &there), "1004, 1007-1009, 1011");
        assert_eq!(missing(&(1000..=1006), &BTreeSet::from([1001, 1003, 1006])), "1000, 1002, 1004-1005");
        assert_eq!(missing(&(1..=2), &BTreeSet::from([1, 2])), "");
    }
}
