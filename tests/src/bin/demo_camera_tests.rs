//! Makes the demo's frames of an edge, a scene and a grey card again: fixtures/demo/camera_tests.

use rushlight_tests::camera_tests;

fn main() -> std::io::Result<()> {
    let folder = camera_tests::folder();
    std::fs::create_dir_all(&folder)?;
    let mut bytes = 0;
    for (name, file) in camera_tests::files() {
        bytes += file.len();
        std::fs::write(folder.join(name), file)?;
    }
    println!("{}: {bytes} bytes", folder.display());
    Ok(())
}
