//! Prints what chains drawn by seed are taken for: `chain_confusion FIRST COUNT FAULTS [STEP]`, every STEPth seed from FIRST on.

use rushlight_tests::confusion::confusion;

fn main() {
    let numbers: Vec<u64> = std::env::args().skip(1).filter_map(|a| a.parse().ok()).collect();
    let [first, count, faults, rest @ ..] = &numbers[..] else {
        eprintln!("usage: chain_confusion FIRST COUNT FAULTS [STEP]");
        std::process::exit(2);
    };
    let step = rest.first().copied().unwrap_or(1);
    let seeds: Vec<u64> = (0..*count).map(|i| first + i * step).collect();
    let found = confusion(&seeds, *faults as usize);
    print!("{found}");
    found.fine.iter().for_each(|line| println!("called right: {line}"));
    found.wrong.iter().for_each(|line| println!("{line}"));
}
