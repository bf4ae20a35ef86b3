//! What is kept of a live picture, and for how long.

use super::*;
use crate::ffmpeg::Layout;

fn frame(number: u64, since: Instant, width: usize) -> Taken {
    let layout = Layout::named("gbrp").unwrap();
    let clip = Arc::new(Clip::of_stills(width, 1, layout, "25"));
    Taken { number, at: SystemTime::now(), since, raw: vec![0; 3 * width], clip }
}

fn inner() -> Inner {
    Inner::new(State::Running)
}

fn numbers(inner: &Inner) -> Vec<u64> {
    inner.kept.iter().map(|taken| taken.number).collect()
}

#[test]
fn what_is_kept_has_a_bound_in_bytes_and_in_seconds() {
    let (start, second) = (Instant::now(), Duration::from_secs(1));
    let mut few = inner();
    (1..=9).for_each(|n| few.take(frame(n, start, 100), 1000));
    assert_eq!(numbers(&few), [7, 8, 9]);
    let mut long = inner();
    (1..=20).for_each(|n| long.take(frame(n, start + second * n as u32, 1), 1 << 20));
    assert_eq!(numbers(&long), (10..=20).collect::<Vec<_>>());
    // However little it may be, the newest frame is there.
    let mut none = inner();
    (1..=3).for_each(|n| none.take(frame(n, start, 100), 0));
    assert_eq!(numbers(&none), [3]);
    assert!(long.came.len() <= 3);
}

#[test]
fn what_went_gives_its_bytes_to_the_next() {
    let start = Instant::now();
    let mut few = inner();
    (1..=3).for_each(|n| few.take(frame(n, start, 100), 1000));
    assert_eq!(few.spare, None);
    few.take(frame(4, start, 100), 1000);
    assert_eq!(few.spare.as_ref().map(Vec::len), Some(300));
    // One that is still on its way to a page does not.
    few.spare = None;
    let sent = few.kept[0].clone();
    few.take(frame(5, start, 100), 1000);
    assert_eq!((few.spare, sent.number), (None, 2));
}

#[test]
fn what_is_held_stays_until_it_is_let_go() {
    let (start, second) = (Instant::now(), Duration::from_secs(1));
    let mut kept = inner();
    (1..=3).for_each(|n| kept.take(frame(n, start, 10), 1 << 20));
    kept.held = Some(start + 6 * second);
    (4..=9).for_each(|n| kept.take(frame(n, start + second, 10), 1 << 20));
    assert_eq!((numbers(&kept), kept.newest.as_ref().unwrap().number, kept.count), (vec![1, 2, 3], 9, 9));
    // The page that held it asks no more.
    kept.take(frame(10, start + 7 * second, 10), 1 << 20);
    assert_eq!((numbers(&kept), kept.held), (vec![10], None));
    // A source that comes back with another size has nothing to look back at.
    kept.take(frame(11, start + 7 * second, 20), 1 << 20);
    assert_eq!(numbers(&kept), [11]);
}

#[test]
fn the_rate_is_that_of_the_last_two_seconds() {
    let (start, step) = (Instant::now(), Duration::from_millis(40));
    let mut steady = inner();
    (0..100).for_each(|n| steady.take(frame(n + 1, start + step * n as u32, 1), 1 << 20));
    let now = start + step * 99;
    assert!((steady.rate(now) - 25.0).abs() < 1e-6, "{}", steady.rate(now));
    assert!(steady.rate(now + Duration::from_secs(5)) == 0.0);
}

#[test]
fn a_picture_is_the_signal_in_sixteen_bits() {
    let mut one = frame(1, Instant::now(), 2);
    // Green, blue, red, a plane each.
    one.raw = vec![0, 255, 51, 102, 255, 1];
    let codes: Vec<u16> = one.picture().chunks_exact(2).map(|b| u16::from_le_bytes([b[0], b[1]])).collect();
    assert_eq!(codes, [65535, 0, 51 * 257, 257, 65535, 102 * 257]);
}
