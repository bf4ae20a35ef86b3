use super::chart::{Axis, Chart, Guide, Mark, Panel, Series};
use super::*;
use quick_xml::events::Event;
use rushlight::difference::ciede2000;
use rushlight::transfer::encoding;
use std::path::Path;

const HOSTILE: &str = "A & B <script>\"x\"</script> 'y' \u{1}\u{7}";

fn sample() -> Drawing {
    let line = |f: fn(f64) -> f64| (0..=50).map(|i| f64::from(i) / 50.0).map(|x| [x, f(x)]).collect::<Vec<_>>();
    let channels = Panel {
        title: HOSTILE.to_owned(),
        x: Axis::linear("input"),
        y: Axis::linear("output"),
        series: Series::channels([line(|x| x * x), line(|x| x), line(|x| x * (2.0 - x))]),
        guides: vec![Guide::X(0.5, "middle".to_owned()), Guide::Line([[0.0, 0.0], [1.0, 1.0]])],
    };
    let dots = vec![[0.01, 1.0], [0.1, f64::NAN], [1.0, 3.0], [-5.0, 1.0]];
    let scatter = Panel {
        title: "Noise".to_owned(),
        x: Axis::log("light"),
        y: Axis::linear(""),
        series: vec![Series { mark: Mark::Dots { radius: 3.0 }, ..Series::line("patches", theme::SERIES[0], dots) }],
        guides: vec![Guide::Y(2.0, HOSTILE.to_owned())],
    };
    let notes = vec!["A note that is long enough to be broken into more than one line of the drawing. ".repeat(5)];
    let panels = vec![channels, scatter];
    let (title, subtitle) = (HOSTILE.to_owned(), "All of it".to_owned());
    Chart { title, subtitle, panels, columns: 2, plot: [240.0, 180.0], notes }.draw()
}

/// The text of every element, and the attributes of the root.
fn parsed(svg: &str) -> (String, Vec<(String, String)>) {
    let mut reader = quick_xml::Reader::from_str(svg);
    let (mut text, mut root) = (String::new(), Vec::new());
    loop {
        match reader.read_event().expect("well-formed") {
            Event::Start(e) | Event::Empty(e) => {
                let attributes = e.attributes().map(|a| a.expect("an attribute"));
                let pairs = attributes.map(|a| (a.key.into_inner().to_owned(), a.value.into_owned()));
                let pairs: Vec<(String, String)> = pairs.collect();
                assert!(pairs.iter().all(|(key, _)| key != "id"), "ids would meet in one page");
                assert!(pairs.iter().all(|(_, value)| !value.contains("NaN") && !value.contains("inf")), "{pairs:?}");
                if root.is_empty() {
                    root = pairs;
                }
            }
            Event::Text(t) => text.push_str(&t.xml10_content()),
            Event::GeneralRef(r) => text.push_str(&format!("&{};", r.xml10_content())),
            Event::Eof => return (text, root),
            _ => {}
        }
    }
}

#[test]
fn an_svg_is_well_formed_and_text_is_escaped() {
    let drawing = sample();
    let (text, root) = parsed(&drawing.svg);
    assert!(!drawing.svg.contains("<script"));
    assert!(text.contains("A &amp; B &lt;script&gt;&quot;x&quot;&lt;/script&gt; &#39;y&#39;"), "{text}");
    assert!(root.iter().any(|(k, v)| k == "width" && v.parse() == Ok(drawing.width)), "{root:?}");
    assert_eq!(sample(), drawing, "the same each time");
}

/// Where a text begins, from the left.
fn left_of(svg: &str, text: &str) -> f64 {
    let before = svg.split(&format!(">{text}<")).next().expect("a text");
    let attributes = &before[before.rfind('<').expect("its element")..];
    let x = attributes.split(" x=\"").nth(1).and_then(|a| a.split('"').next()).expect("a place");
    x.parse().expect("a number")
}

#[test]
fn the_name_of_a_line_stands_clear_of_what_is_drawn() {
    let at = |points: Vec<[f64; 2]>| {
        let (x, y) = (Axis::linear("").over(0.0, 1.0), Axis::linear("").over(0.0, 1.0));
        let series = vec![Series { mark: Mark::Dots { radius: 3.0 }, ..Series::line("", theme::SERIES[0], points) }];
        let panels = vec![Panel { title: String::new(), x, y, series, guides: vec![Guide::Y(0.5, "clip".to_owned())] }];
        let chart = Chart {
            title: String::new(),
            subtitle: String::new(),
            panels,
            columns: 1,
            plot: [240.0, 180.0],
            notes: vec![],
        };
        left_of(&chart.draw().svg, "clip")
    };
    let (right, left) = (at(vec![[0.5, 0.5]]), at(vec![[0.95, 0.52]]));
    assert!(right - left > 150.0, "{left} and {right}");
    // On either side something lies under it.
    assert_eq!(at(vec![[0.95, 0.52], [0.05, 0.52]]), right);
}

/// The pixels as RGB, with their width and height.
fn pixels(png: &[u8]) -> (u32, u32, Vec<u8>) {
    let mut reader = png::Decoder::new(std::io::Cursor::new(png)).read_info().expect("a PNG");
    let mut rgb = vec![0; reader.output_buffer_size().expect("a size")];
    let info = reader.next_frame(&mut rgb).expect("a picture");
    assert_eq!((info.color_type, info.bit_depth), (png::ColorType::Rgb, png::BitDepth::Eight));
    assert!(reader.info().srgb.is_some(), "it says that it is sRGB");
    (info.width, info.height, rgb)
}

#[test]
fn a_png_has_the_size_that_was_asked_for_and_ink_in_the_theme_colours() {
    let drawing = sample();
    for dpi in [96.0, Drawing::DPI] {
        let (width, height, rgb) = pixels(&drawing.bytes(Format::Png, dpi).unwrap());
        let side = |v: f64| (v * dpi / 96.0).round() as u32;
        assert_eq!((width, height), (side(drawing.width), side(drawing.height)));
        let count = |hex: &str| rgb.chunks_exact(3).filter(|p| *p == bytes_of(hex)).count();
        assert!(count(theme::GROUND) > rgb.len() / 6, "most of it is ground");
        for colour in theme::CHANNELS.into_iter().chain([theme::INK, theme::GRID]) {
            assert!(count(colour) > 20, "{colour}");
        }
    }
    assert!(Canvas::new("wide", 1e6, 1.0, Unit::Px).finish().bytes(Format::Png, 96.0).is_err());
}

#[test]
fn millimetres_come_out_true() {
    let mut canvas = Canvas::new("card", 50.8, 25.4, Unit::Mm);
    canvas.rect([25.4, 0.0], [25.4, 25.4], &Paint::fill("#ff0000"));
    let card = canvas.finish();
    assert!(card.svg.contains("width=\"50.8mm\""));
    let (width, height, rgb) = pixels(&card.bytes(Format::Png, 100.0).unwrap());
    assert_eq!((width, height), (200, 100));
    assert_eq!((&rgb[..3], &rgb[3 * 199..3 * 200]), (&[255; 3][..], &[255, 0, 0][..]));
    // 2 by 1 inch is 144 by 72 points.
    let pdf = card.bytes(Format::Pdf, 0.0).unwrap();
    assert!(String::from_utf8_lossy(&pdf).contains("/MediaBox[0 0 144 72]"));
}

#[test]
fn a_pdf_holds_text_and_a_page_stands_alone() {
    let drawing = sample();
    let pdf = drawing.bytes(Format::Pdf, 0.0).unwrap();
    let text = String::from_utf8_lossy(&pdf);
    assert!(text.starts_with("%PDF-1.") && text.trim_end().ends_with("%%EOF"));
    assert!(text.contains("/FontFile") && text.contains("/ToUnicode") && !text.contains("/CreationDate"));
    for _ in 0..8 {
        assert!(pdf == drawing.bytes(Format::Pdf, 0.0).unwrap(), "the same each time");
    }

    let page = String::from_utf8(drawing.bytes(Format::Html, 0.0).unwrap()).unwrap();
    assert!(page.starts_with("<!DOCTYPE html>") && page.contains(&drawing.svg));
    assert!(!page.contains("<script") && !page.contains("src=") && page.matches("url(data:").count() == 2);
    let links = page.matches("http:").count() + page.matches("https:").count();
    assert_eq!(links, page.matches("http://www.w3.org/2000/svg").count(), "nothing is fetched");
    assert!(page.contains("Content-Security-Policy\" content=\"default-src 'none';"));
}

#[test]
fn a_file_is_of_the_kind_that_its_name_says() {
    for (name, format) in
        [("a.svg", Format::Svg), ("a.b.PNG", Format::Png), ("dir/a.pdf", Format::Pdf), ("a.html", Format::Html)]
    {
        assert_eq!(Format::of(Path::new(name)).unwrap(), format);
    }
    for name in ["a.gif", "svg", ".svg", "a."] {
        let error = format!("{:?}", Format::of(Path::new(name)).unwrap_err());
        assert!(error.contains("must end in .svg, .png, .pdf or .html"), "{error}");
    }
}

fn bytes_of(hex: &str) -> [u8; 3] {
    [1, 3, 5].map(|at| u8::from_str_radix(&hex[at..at + 2], 16).expect("#rrggbb"))
}

/// Linear sRGB of a colour.
fn linear(hex: &str) -> [f64; 3] {
    let srgb = encoding("srgb").unwrap().build(None).unwrap();
    bytes_of(hex).map(|v| srgb.decode(f64::from(v) / 255.0))
}

/// What dichromats see: Machado, Oliveira and Fernandes, "A Physiologically-based Model for Simulation of Color Vision
/// Deficiency" (2009), table for severity 1.0, on linear sRGB.
const SIGHTS: [[[f64; 3]; 3]; 4] = [
    [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]],
    [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]],
    [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]],
    [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]],
];

#[test]
fn lines_stand_out_from_the_ground_and_from_one_another_to_every_kind_of_sight() {
    let to_xyz = rushlight::gamut::named_gamut("bt709").unwrap().gamut.to_xyz();
    let lab = |rgb: [f64; 3]| {
        let xyz = std::array::from_fn(|i| (0..3).map(|j| to_xyz[(i, j)] * rgb[j].clamp(0.0, 1.0)).sum());
        rushlight::difference::lab(xyz, [0.95047, 1.0, 1.08883])
    };
    for set in [&theme::CHANNELS[..], &theme::SERIES] {
        for (i, colour) in set.iter().enumerate() {
            let [r, g, b] = linear(colour);
            // Contrast by WCAG 2.2, 1.4.11: 3 to 1 for what is no text.
            let contrast = 1.05 / (0.2126 * r + 0.7152 * g + 0.0722 * b + 0.05);
            assert!(contrast >= 3.0, "{colour}: {contrast}");
            for other in &set[..i] {
                for sight in SIGHTS {
                    let seen = |hex| sight.map(|row| row.iter().zip(linear(hex)).map(|(m, v)| m * v).sum::<f64>());
                    let apart = ciede2000(lab(seen(colour)), lab(seen(other)));
                    assert!(apart > 15.0, "{colour} and {other}: {apart}");
                }
            }
        }
    }
}
