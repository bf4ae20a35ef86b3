//! What a clip is written with: presets of our own, or any encoder of this machine's ffmpeg.

use super::how::How;
use crate::args::Apply as Args;
use crate::failure::Failure;
use crate::ffmpeg::{self, Clip, Encoder, Layout, Output};
use rushlight::apply::planes::{BT709, BT2020, Coding, Planes};
use rushlight::apply::tags::{Codes, code, codes};
use std::path::Path;

/// Names of the presets, and what each is for.
const PRESETS: [&str; 4] = ["review", "small", "edit", "lossless"];

/// An encoder with its options.
#[derive(Debug, Clone)]
pub(super) struct Choice {
    pub(super) options: Vec<String>,
    /// What the encoder gets, by ffmpeg's name.
    pub(super) pixels: String,
    /// Widest picture.
    pub(super) width: Option<usize>,
    /// What we give ffmpeg.
    pub(super) layout: Layout,
    pub(super) codes: Codes,
    pub(super) matrix: &'static str,
    /// In words.
    pub(super) said: String,
    pub(super) notes: Vec<String>,
    /// The same for pictures with alpha, where the encoder takes it.
    transparent: Option<Box<Self>>,
}

impl Choice {
    /// The choice for pictures with alpha, or without.
    pub(super) fn of(&self, alpha: bool) -> &Self {
        self.transparent.as_deref().filter(|_| alpha).unwrap_or(self)
    }

    /// Begins to write `clip` into the file at `path`, with sound and metadata from another.
    pub(super) fn start(
        &self,
        from: Option<&Path>,
        clip: &Clip,
        comment: &str,
        path: &Path,
    ) -> Result<Encoder, Failure> {
        Encoder::start(&Output {
            from,
            clip,
            layout: &self.layout,
            codec: &self.options,
            pixels: &self.pixels,
            width: self.width,
            codes: self.codes,
            matrix: self.matrix,
            comment,
            path,
        })
    }
}

pub(super) fn choose(how: &How, args: &Args) -> Result<Choice, Failure> {
    let name = args.encoder.as_deref().unwrap_or(PRESETS[0]);
    let hdr = how.display.as_ref().is_some_and(|d| d.settings().eotf.is_hdr());
    // A preset's encoder, its options and its pixels; high dynamic range needs ten bits.
    let (encoder, options, pixels, width) = match (name, hdr) {
        ("review", false) => ("libx264", "-preset medium -crf 17", "yuv420p", None),
        ("review", true) => ("libx265", "-preset medium -crf 17 -tag:v hvc1", "yuv420p10le", None),
        ("small", false) => ("libx264", "-preset fast -crf 24", "yuv420p", Some(1280)),
        ("small", true) => ("libx265", "-preset fast -crf 24 -tag:v hvc1", "yuv420p10le", Some(1280)),
        // SMPTE ST 2019-1, 10 bits, by the standard's largest profile of 4:2:2.
        ("edit", _) => ("dnxhd", "-profile:v dnxhr_hqx", "yuv422p10le", None),
        ("lossless", _) => ("ffv1", "-level 3 -g 1 -slices 16 -slicecrc 1", "gbrp12le", None),
        (other, _) => (other, "", "yuv420p", None),
    };
    let mut options: Vec<String> = options.split_whitespace().map(str::to_owned).collect();
    for pair in &args.encoder_option {
        let Some((key, value)) = pair.split_once('=').filter(|(key, _)| !key.is_empty()) else {
            return Err(Failure::new(format!("--encoder-option: `{pair}`: it must be KEY=VALUE, such as crf=20")));
        };
        options.extend([format!("-{key}"), value.to_owned()]);
    }
    let Some(formats) = ffmpeg::encoder_formats(encoder)? else {
        let presets = PRESETS.join(", ");
        return Err(Failure::new(format!(
            "--encoder {name}: the ffmpeg of this machine has no encoder `{encoder}`; the presets are {presets}, and `ffmpeg -encoders` lists the others"
        )));
    };
    let codes = how.display.as_ref().map_or(Codes { primaries: code::UNSPECIFIED, transfer: code::UNSPECIFIED }, codes);
    let mut codec = vec!["-c:v".to_owned(), encoder.to_owned()];
    codec.extend(options);
    let made = |pixels: &str| -> Option<Choice> {
        let (layout, matrix) = layout(pixels, codes)?;
        let mut notes = Vec::new();
        if hdr && layout.planes.bits < 10 {
            notes.push("8 bits band in high dynamic range: 10 bits or more hold it".to_owned());
        }
        Some(Choice {
            said: format!(
                "{name}: {encoder}, {pixels}, {} range",
                if layout.range == "full" { "full" } else { "legal" }
            ),
            options: codec.clone(),
            pixels: pixels.to_owned(),
            width,
            layout,
            codes,
            matrix,
            notes,
            transparent: None,
        })
    };
    let mut choice = made(args.pixels.as_deref().unwrap_or(pixels)).ok_or_else(|| {
        let given = args.pixels.as_deref().unwrap_or(pixels);
        Failure::new(format!("--pixels: `{given}`: not of a kind that is written: yuv or gbrp, 8 to 16 bits"))
    })?;
    // Who names a format without alpha wants none.
    if args.pixels.is_none() {
        choice.transparent = twin(pixels, &formats).and_then(made).map(Box::new);
    }
    Ok(choice)
}

/// Planes that ffmpeg gets from us for a pixel format, and their matrix; none where it is of no kind that is written.
fn layout(pixels: &str, codes: Codes) -> Option<(Layout, &'static str)> {
    let bits = ffmpeg::bits(pixels)?;
    let alpha = ffmpeg::has_alpha(pixels);
    let rgb = is_rgb(pixels);
    let luma = ["yuv", "p0", "ayuv"].iter().any(|start| pixels.starts_with(start)) || pixels == "nv12";
    if !(rgb || luma) || pixels.contains('f') {
        return None;
    }
    let wide = codes.primaries == code::BT2020;
    let end = if bits > 8 { format!("{bits}le") } else { String::new() };
    let full = pixels.starts_with("yuvj");
    let (coding, kind) = match (rgb, alpha) {
        (true, false) => (Coding::Rgb, "gbrp"),
        (true, true) => (Coding::Rgb, "gbrap"),
        (false, _) => {
            let weights = if wide { BT2020 } else { BT709 };
            let kind = match (full, alpha) {
                (true, _) => "yuvj444p",
                (_, true) => "yuva444p",
                _ => "yuv444p",
            };
            (Coding::Luma { full, weights }, kind)
        }
    };
    let range = if rgb || full { "full" } else { "limited" };
    let matrix = match (rgb, wide) {
        (true, _) => "gbr",
        (_, true) => "bt2020nc",
        _ => "bt709",
    };
    Some((Layout { name: format!("{kind}{end}"), range, planes: Planes { bits, coding, alpha } }, matrix))
}

fn is_rgb(pixels: &str) -> bool {
    ["gbr", "rgb", "bgr", "argb", "abgr"].iter().any(|start| pixels.starts_with(start))
}

/// The format with alpha among those of an encoder that is nearest to one without: of as many bits and as fine in colour, of
/// its kind.
fn twin<'f>(pixels: &str, formats: &'f [String]) -> Option<&'f str> {
    // Samples of chroma in a block of four by two.
    let chroma = |format: &str| match () {
        () if is_rgb(format) || format.contains("444") || format.starts_with("ayuv") => 8,
        () if format.contains("422") => 4,
        () => 2,
    };
    let (bits, fine) = (ffmpeg::bits(pixels)?, chroma(pixels));
    let with_alpha = formats.iter().filter(|format| ffmpeg::has_alpha(format));
    with_alpha
        .filter_map(|format| {
            let (b, c) = (ffmpeg::bits(format)?, chroma(format));
            let other = is_rgb(format) != is_rgb(pixels);
            Some(((b < bits, c < fine, other, b, c), format.as_str()))
        })
        .min()
        .map(|(_, format)| format)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn alpha_takes_the_nearest_format_of_the_encoder() {
        let of = |pixels: &str, formats: &str| {
            let formats: Vec<String> = formats.split(' ').map(str::to_owned).collect();
            twin(pixels, &formats).map(str::to_owned)
        };
        let many = "yuv420p yuva420p yuva422p yuva444p yuva444p10le gbrp12le gbrap gbrap12le gbrap16le bgra";
        assert_eq!(of("gbrp12le", many).as_deref(), Some("gbrap12le"));
        assert_eq!(of("yuv420p", many).as_deref(), Some("yuva420p"));
        assert_eq!(of("yuv422p10le", many).as_deref(), Some("yuva444p10le"));
        assert_eq!(of("yuv420p", "rgb24 argb").as_deref(), Some("argb"));
        assert_eq!(of("yuv422p10le", "yuv422p10le yuv444p10le"), None);
    }

    #[test]
    fn formats_are_taken_for_planes() {
        let codes = Codes { primaries: code::BT2020, transfer: code::UNSPECIFIED };
        let of = |pixels: &str| layout(pixels, codes).map(|(layout, matrix)| (layout.name, layout.range, matrix));
        assert_eq!(of("yuva420p").unwrap(), ("yuva444p".to_owned(), "limited", "bt2020nc"));
        assert_eq!(of("argb").unwrap(), ("gbrap".to_owned(), "full", "gbr"));
        assert_eq!(of("p010le").unwrap(), ("yuv444p10le".to_owned(), "limited", "bt2020nc"));
        assert_eq!(of("rgb48be").unwrap(), ("gbrp16le".to_owned(), "full", "gbr"));
        assert!(of("gbrapf32le").is_none() && of("gray").is_none() && of("xyz12le").is_none());
    }
}
