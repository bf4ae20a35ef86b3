//! The slate of a PDF: the subject in its document information, ISO 32000-1, 14.3.3.
//!
//! It is put in by an incremental update (7.5.6): what the file was stays as it is, and a new dictionary, its place and a new
//! trailer follow. So it is the same for a PDF of this program and for one that a browser printed.

use std::fmt::Write as _;

/// The key of the subject, and how its text begins: UTF-16 with the big end first, as hexadecimal digits.
const SUBJECT: &[u8] = b"/Subject <FEFF";

/// A PDF with its title and a slate; as it was where the slate is empty, or where its end is of a kind that is not known.
pub(crate) fn with_slate(pdf: Vec<u8>, title: &str, slate: &str) -> Vec<u8> {
    match update(&pdf, title, slate).filter(|_| !slate.is_empty()) {
        Some(more) => [pdf, more.into_bytes()].concat(),
        None => pdf,
    }
}

/// The slate of a PDF.
pub(crate) fn slate(pdf: &[u8]) -> Option<String> {
    let at = rfind(pdf, SUBJECT)? + SUBJECT.len();
    let digits = pdf.get(at..)?.split(|b| *b == b'>').next()?;
    let unit = |four: &[u8]| {
        let four = std::str::from_utf8(four).ok().filter(|four| four.len() == 4)?;
        u16::from_str_radix(four, 16).ok()
    };
    let units = digits.chunks(4).map(unit).collect::<Option<Vec<u16>>>()?;
    String::from_utf16(&units).ok()
}

fn update(pdf: &[u8], title: &str, slate: &str) -> Option<String> {
    let trailer = rfind(pdf, b"trailer")?;
    let end = std::str::from_utf8(pdf.get(trailer..)?).ok()?;
    let after = |key: &str| end.split_once(key).map(|(_, rest)| rest.trim_start());
    let number = |text: &str| text.split(|c: char| !c.is_ascii_digit()).next()?.parse::<usize>().ok();
    let (size, table) = (number(after("/Size")?)?, number(after("startxref")?)?);
    let root = after("/Root")?.split_inclusive('R').next()?;
    let at = pdf.len() + 1;
    let mut more = format!("\n{size} 0 obj\n<< /Title <{}> /Subject <{}> >>\nendobj\n", text(title), text(slate));
    let xref = pdf.len() + more.len();
    let _ = write!(
        more,
        "xref\n{size} 1\n{at:010} 00000 n \ntrailer\n<< /Size {} /Root {root} /Info {size} 0 R /Prev {table} >>\nstartxref\n\
         {xref}\n%%EOF\n",
        size + 1
    );
    Some(more)
}

fn text(text: &str) -> String {
    std::iter::once(0xFEFF).chain(text.encode_utf16()).fold(String::new(), |mut digits, unit| {
        let _ = write!(digits, "{unit:04X}");
        digits
    })
}

fn rfind(bytes: &[u8], wanted: &[u8]) -> Option<usize> {
    bytes.windows(wanted.len()).rposition(|window| window == wanted)
}

#[cfg(test)]
mod tests {
    use super::*;

    const PLAIN: &str = "%PDF-1.4\n1 0 obj\n<< /Type /Catalog >>\nendobj\nxref\n0 2\n0000000000 65535 f \n0000000009 00000 n \n\
                         trailer\n<</Size 2\n/Root 1 0 R\n>>\nstartxref\n46\n%%EOF\n";

    #[test]
    fn a_slate_is_put_in_and_read_back() {
        let lines = "made by rushlight 0.1.0\nshow: Salzmarsch – Nächte (1)\nsource: a.toml sha256 00";
        let pdf = with_slate(PLAIN.into(), "Card", lines);
        assert!(pdf.starts_with(PLAIN.as_bytes()));
        assert_eq!(slate(&pdf).as_deref(), Some(lines));
        // The new object stands where the new table says, and the table where the end says.
        let text = std::str::from_utf8(&pdf).unwrap();
        let at = |key: &str| text.rfind(key).unwrap();
        let number = |from: usize| text[from..].split_whitespace().next().unwrap().parse::<usize>().unwrap();
        assert!(text[number(at("\n2 1\n") + 5)..].starts_with("2 0 obj"));
        assert!(text[number(at("startxref") + 9)..].starts_with("xref\n2 1"));
        assert!(text.contains("<< /Size 3 /Root 1 0 R /Info 2 0 R /Prev 46 >>"));
    }

    #[test]
    fn what_is_not_known_stays_as_it_is() {
        for odd in ["", "%PDF-1.5\nstartxref\n9\n%%EOF", "trailer << >>", "trailer << /Size 2 >> startxref x"] {
            assert_eq!(with_slate(odd.into(), "a", "b"), odd.as_bytes());
        }
        assert_eq!(with_slate(PLAIN.into(), "a", ""), PLAIN.as_bytes());
        for odd in ["/Subject <FEFF", "/Subject <FEFF00>", "/Subject <FEFFD800>", "/Subject <FEFFzzzz>"] {
            assert!(slate(odd.as_bytes()).is_none_or(|text| text.is_empty()), "{odd}");
        }
    }
}
