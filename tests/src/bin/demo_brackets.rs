//! Makes the demo's brackets again: fixtures/demo/brackets.

use rushlight_tests::brackets;

fn main() -> std::io::Result<()> {
    let folder = brackets::folder();
    std::fs::create_dir_all(&folder)?;
    let mut bytes = 0;
    for (name, file) in brackets::files() {
        bytes += file.len();
        std::fs::write(folder.join(name), file)?;
    }
    println!("{}: {bytes} bytes", folder.display());
    Ok(())
}
