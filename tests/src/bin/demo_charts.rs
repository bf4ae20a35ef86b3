//! Makes the demo's charts again: fixtures/demo/chart.

use rushlight_tests::charts;

fn main() -> std::io::Result<()> {
    let folder = charts::folder();
    std::fs::create_dir_all(&folder)?;
    let mut bytes = 0;
    for (name, file) in charts::files() {
        bytes += file.len();
        std::fs::write(folder.join(name), file)?;
    }
    println!("{}: {bytes} bytes", folder.display());
    Ok(())
}
