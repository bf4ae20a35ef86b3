//! Pages as PDF, by a headless browser of this machine.

use crate::failure::Failure;
use crate::pdf;
use std::ffi::OsString;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// Programs that print a page without a window, as they are called on the path.
const PROGRAMS: [&str; 7] =
    ["chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome", "msedge", "microsoft-edge"];
/// Where they are installed without a place on the path.
const PLACES: [&str; 5] = [
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
    "/Applications/Chromium.app/Contents/MacOS/Chromium",
    "/Applications/Microsoft Edge.app/Contents/MacOS/Microsoft Edge",
    "C:\\Program Files\\Google\\Chrome\\Application\\chrome.exe",
    "C:\\Program Files (x86)\\Microsoft\\Edge\\Application\\msedge.exe",
];
/// Longer than this no page takes.
const PATIENCE: Duration = Duration::from_secs(120);
/// How often a browser at work is looked after.
const GLANCE: Duration = Duration::from_millis(50);

/// The first browser that is there.
pub(crate) fn find() -> Result<PathBuf, Failure> {
    let path = std::env::var_os("PATH").unwrap_or_default();
    let ending = std::env::consts::EXE_SUFFIX;
    let named = std::env::split_paths(&path)
        .filter(|folder| !folder.as_os_str().is_empty())
        .flat_map(|folder| PROGRAMS.map(|name| folder.join(format!("{name}{ending}"))));
    named.chain(PLACES.map(PathBuf::from)).find(|program| program.is_file()).ok_or_else(|| {
        Failure::new(format!(
            "--pdf: needs a headless browser, and none of {} is on the path: install one, or print the page from any browser",
            PROGRAMS.join(", ")
        ))
    })
}

/// The PDF of an HTML page, with the title and the slate of what it is.
pub(crate) fn pdf(browser: &Path, html: &str, title: &str, slate: &[String]) -> Result<Vec<u8>, Failure> {
    let fail = |why: String| Failure::new(format!("--pdf: {why}"));
    let folder = tempfile::tempdir().map_err(|e| fail(e.to_string()))?;
    let (page, printed) = (folder.path().join("page.html"), folder.path().join("page.pdf"));
    std::fs::write(&page, html).map_err(|e| fail(e.to_string()))?;
    let mut said = String::new();
    // Some machines, and every superuser, have no sandbox; the page has no script and asks for nothing.
    for sandbox in [true, false] {
        said = print(browser, &page, &printed, folder.path(), sandbox).map_err(fail)?;
        if let Ok(bytes) = std::fs::read(&printed)
            && bytes.starts_with(b"%PDF")
        {
            return Ok(pdf::with_slate(undated(bytes), title, &slate.join("\n")));
        }
    }
    let after = if said.is_empty() { String::new() } else { format!(": {said}") };
    Err(fail(format!("{} made no PDF of the page{after}", browser.display())))
}

/// Runs the browser to print; gives the last line of its standard error.
fn print(browser: &Path, page: &Path, printed: &Path, folder: &Path, sandbox: bool) -> Result<String, String> {
    let option = |name: &str, path: &Path| {
        let mut option = OsString::from(name);
        option.push(path);
        option
    };
    let mut command = Command::new(browser);
    command.args(["--headless", "--disable-gpu", "--no-first-run", "--no-pdf-header-footer", "--disable-extensions"]);
    command.arg(option("--user-data-dir=", &folder.join("profile"))).arg(option("--print-to-pdf=", printed));
    if !sandbox {
        command.arg("--no-sandbox");
    }
    let log = folder.join("said");
    let stderr = std::fs::File::create(&log).map_err(|e| e.to_string())?;
    let child = command.arg(page).stdin(Stdio::null()).stdout(Stdio::null()).stderr(stderr).spawn();
    let mut child = child.map_err(|error| format!("cannot run {}: {error}", browser.display()))?;
    let start = Instant::now();
    while matches!(child.try_wait(), Ok(None)) {
        if start.elapsed() > PATIENCE {
            let _ = child.kill();
            let _ = child.wait();
            return Err(format!("{} did not end within {} s", browser.display(), PATIENCE.as_secs()));
        }
        std::thread::sleep(GLANCE);
    }
    let text = std::fs::read(&log).unwrap_or_default();
    let text = String::from_utf8_lossy(&text);
    Ok(text.lines().map(str::trim).rfind(|line| !line.is_empty()).unwrap_or_default().to_owned())
}

/// A PDF without its dates, so that the same page gives the same file: each becomes the first second of the year 2000, of the
/// same length, so that every object stays where the file's own table says.
fn undated(mut pdf: Vec<u8>) -> Vec<u8> {
    const FIRST: &[u8] = b"20000101000000";
    for key in [b"/CreationDate (D:".as_slice(), b"/ModDate (D:"] {
        let starts: Vec<usize> =
            pdf.windows(key.len()).enumerate().filter(|(_, w)| *w == key).map(|(i, _)| i).collect();
        for start in starts.into_iter().map(|at| at + key.len()) {
            if let Some(date) = pdf.get_mut(start..start + FIRST.len()).filter(|d| d.iter().all(u8::is_ascii_digit)) {
                date.copy_from_slice(FIRST);
            }
        }
    }
    pdf
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dates_are_taken_out_of_a_pdf_and_nothing_else() {
        let dated = b"1 0 obj <</CreationDate (D:20261125233000+00'00')/ModDate (D:20261125233001+00'00')>>".to_vec();
        let text = String::from_utf8(undated(dated)).unwrap();
        assert_eq!(text, "1 0 obj <</CreationDate (D:20000101000000+00'00')/ModDate (D:20000101000000+00'00')>>");
        for odd in [&b"/CreationDate (D:2026"[..], b"/CreationDate (D:no date at all)", b""] {
            assert_eq!(undated(odd.to_vec()), odd);
        }
    }
}
