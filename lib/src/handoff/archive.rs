//! The directory of a .zip, checked before anything in it is unpacked.
//!
//! Readers of the format differ: one uses the directory at the end, another unpacks entry by entry from the start. Here a
//! file is taken only where both see the same: every entry is in the directory once, its own header has the same name, and
//! entries neither overlap nor leave room for others (ZIP Application Note 6.3, sections 4.3.7, 4.3.12 and 4.3.16).

use crate::invalid::Invalid;
use std::collections::BTreeSet;
use std::io::{Read, Seek, SeekFrom};

/// Most bytes of a directory that are read.
const LARGEST_DIRECTORY: u64 = 16 << 20;
/// Most entries: beyond this the format needs its extension for large files.
const MOST: usize = u16::MAX as usize - 1;
/// Fixed bytes of an entry's own header, of its place in the directory, and of the end.
const LOCAL: u64 = 30;
const CENTRAL: usize = 46;
const END: usize = 22;
/// Bytes that may follow the data of an entry: its checksum and sizes, where they were not known before.
const DESCRIPTOR: u64 = 24;

/// An entry.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entry {
    /// Its name as it stands there.
    pub name: String,
    /// Where its own header begins.
    pub header: u64,
    /// Bytes of its data as packed.
    pub packed: u64,
    /// Bytes of its data.
    pub bytes: u64,
}

fn short(bytes: &[u8], at: usize) -> usize {
    bytes.get(at..at + 2).map_or(0, |b| usize::from(b[0]) | usize::from(b[1]) << 8)
}

fn long(bytes: &[u8], at: usize) -> u64 {
    short(bytes, at) as u64 | (short(bytes, at + 2) as u64) << 16
}

fn read(file: &mut (impl Read + Seek), at: u64, bytes: usize) -> Result<Vec<u8>, String> {
    file.seek(SeekFrom::Start(at)).map_err(|e| e.to_string())?;
    let mut found = Vec::new();
    file.take(bytes as u64).read_to_end(&mut found).map_err(|e| e.to_string())?;
    if found.len() == bytes { Ok(found) } else { Err("not a .zip: it ends too early".to_owned()) }
}

/// The entries of a .zip, in the order of their places. Memory is bounded by the directory, which is at most 16 MB.
///
/// # Errors
/// What is no .zip, or one that two readers could take for two different ones.
pub fn entries(file: &mut (impl Read + Seek)) -> Result<Vec<Entry>, Invalid> {
    checked(file).map_err(Invalid::plain)
}

fn checked(file: &mut (impl Read + Seek)) -> Result<Vec<Entry>, String> {
    let length = file.seek(SeekFrom::End(0)).map_err(|e| e.to_string())?;
    let tail = (length as usize).min(END + usize::from(u16::MAX));
    let tail = read(file, length - tail as u64, tail)?;
    let is_end = |at: &usize| tail[*at..].starts_with(b"PK\x05\x06") && at + END + short(&tail, at + 20) == tail.len();
    let at = (0..=tail.len().saturating_sub(END)).rev().find(|at| tail.len() >= END && is_end(at));
    let at = at.ok_or("not a .zip: it has no directory at its end")?;
    let (count, size, start) = (short(&tail, at + 10), long(&tail, at + 12), long(&tail, at + 16));
    if count > MOST || start == u64::from(u32::MAX) {
        return Err(format!("a .zip of more than {MOST} files or 4 GiB, which no hand-off is"));
    }
    if size > LARGEST_DIRECTORY {
        return Err(format!("its directory has {size} bytes: that of a hand-off has {LARGEST_DIRECTORY} at most"));
    }
    let end = length - (tail.len() - at) as u64;
    if start.checked_add(size) != Some(end) {
        return Err("its directory is not where the end of the file states".to_owned());
    }
    let directory = read(file, start, size as usize)?;
    let mut found: Vec<Entry> = Vec::new();
    let mut names = BTreeSet::new();
    let mut rest = directory.as_slice();
    while !rest.is_empty() {
        let lengths = [28, 30, 32].map(|at| short(rest, at));
        let all = CENTRAL + lengths.iter().sum::<usize>();
        if !rest.starts_with(b"PK\x01\x02") || rest.len() < all {
            return Err("its directory is damaged".to_owned());
        }
        let name = std::str::from_utf8(&rest[CENTRAL..CENTRAL + lengths[0]]);
        let name = name.map_err(|_| "a name that is not UTF-8".to_owned())?;
        if !names.insert(name.to_owned()) {
            return Err(format!("duplicate name `{}`", crate::message::beginning(name)));
        }
        let [packed, bytes, header] = [20, 24, 42].map(|at| long(rest, at));
        found.push(Entry { name: name.to_owned(), header, packed, bytes });
        rest = &rest[all..];
    }
    if found.len() != count {
        return Err(format!("its directory has {} entries, but the end of the file states {count}", found.len()));
    }
    found.sort_by_key(|entry| entry.header);
    let mut free = 0;
    for entry in &found {
        let said = crate::message::beginning(&entry.name);
        if entry.header < free {
            return Err(format!("`{said}` overlaps the entry before it"));
        }
        if entry.header - free > if free == 0 { 0 } else { DESCRIPTOR } {
            return Err(format!("there are bytes before `{said}` that belong to no entry"));
        }
        let header = read(file, entry.header, LOCAL as usize)?;
        if !header.starts_with(b"PK\x03\x04") {
            return Err(format!("`{said}` has no local header"));
        }
        let name = read(file, entry.header + LOCAL, short(&header, 26))?;
        if name != entry.name.as_bytes() {
            let other = String::from_utf8_lossy(&name).into_owned();
            let other = crate::message::beginning(&other);
            return Err(format!("`{said}` is called `{other}` in its local header"));
        }
        free = entry.header + LOCAL + name.len() as u64 + short(&header, 28) as u64 + entry.packed;
    }
    if free > start || start - free > DESCRIPTOR {
        return Err("before its directory there are bytes that are of no entry".to_owned());
    }
    Ok(found)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Cursor;

    /// A .zip of stored entries: name in the directory, name in the header, data.
    fn zip(of: &[(&str, &str, &str)]) -> Vec<u8> {
        let (mut bytes, mut directory) = (Vec::new(), Vec::new());
        let number = |n: usize, width: usize| n.to_le_bytes()[..width].to_vec();
        for (name, own, data) in of {
            let at = bytes.len();
            let sizes = [number(0, 4), number(data.len(), 4), number(data.len(), 4)].concat();
            bytes.extend(
                [b"PK\x03\x04".to_vec(), vec![0; 10], sizes.clone(), number(own.len(), 2), vec![0; 2]].concat(),
            );
            bytes.extend([own.as_bytes(), data.as_bytes()].concat());
            let lengths = [number(name.len(), 2), vec![0; 4]].concat();
            directory.extend([b"PK\x01\x02".to_vec(), vec![0; 12], sizes, lengths, vec![0; 8], number(at, 4)].concat());
            directory.extend(name.as_bytes());
        }
        let (start, size, count) = (number(bytes.len(), 4), number(directory.len(), 4), number(of.len(), 2));
        bytes.extend(directory);
        bytes.extend([b"PK\x05\x06".to_vec(), vec![0; 4], count.clone(), count, size, start, vec![0; 2]].concat());
        bytes
    }

    fn refused(bytes: Vec<u8>) -> String {
        entries(&mut Cursor::new(bytes)).expect_err("must be refused").message
    }

    #[test]
    fn two_readers_see_the_same_files() {
        let good = zip(&[("a/x", "a/x", "one"), ("a/y", "a/y", "")]);
        let found = entries(&mut Cursor::new(good.clone())).unwrap();
        assert_eq!(found.iter().map(|e| (&*e.name, e.bytes)).collect::<Vec<_>>(), [("a/x", 3), ("a/y", 0)]);
        assert!(refused(zip(&[("a", "a", "bad"), ("a", "a", "good")])).contains("duplicate name `a`"));
        assert!(refused(zip(&[("a", "b", "x")])).contains("`a` is called `b` in its local header"));
        // An entry that is in no directory; one place for two.
        let mut hidden = good.clone();
        hidden.splice(0..0, good[..36].to_vec());
        assert!(refused(hidden).contains("not where the end of the file states"));
        let at = good.len() - END - 49 + 42;
        let mut twice = good.clone();
        twice[at..at + 4].copy_from_slice(&[0; 4]);
        assert!(refused(twice).contains("overlaps"));
        assert!(refused(b"PK".to_vec()).contains("not a .zip"));
        for cut in 0..good.len() {
            refused(good[..cut].to_vec());
        }
    }
}
