//! What a clip is written with: presets of our own, or any encoder of this machine's ffmpeg.

use super::how::How;
use crate::args::Apply as Args;
use crate::failure::Failure;
use crate::ffmpeg::{self, Clip, Encoder, Layout, Output};
use rushlight::apply::planes::{BT709, BT2020, Coding, Planes};
use rushlight::apply::tags::{Codes, code, codes};
use std::path::Path;

/// Extensions of containers that ffmpeg writes.
pub(super) const CONTAINERS: [&str; 7] = ["mov", "mp4", "mkv", "mxf", "avi", "nut", "webm"];

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
}

impl Choice {
    /// Begins to write `clip` into the file at `path`, with sound and metadata from another.
    pub(super) fn start(&self, from: Option<&Path>, clip: &Clip, path: &Path) -> Result<Encoder, Failure> {
        Encoder::start(&Output {
            from,
            clip,
            layout: &self.layout,
            codec: &self.options,
            pixels: &self.pixels,
            width: self.width,
            codes: self.codes,
            matrix: self.matrix,
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
    let pixels = args.pixels.as_deref().unwrap_or(pixels);
    let mut options: Vec<String> = options.split_whitespace().map(str::to_owned).collect();
    for pair in &args.encoder_option {
        let Some((key, value)) = pair.split_once('=').filter(|(key, _)| !key.is_empty()) else {
            return Err(Failure::new(format!("--encoder-option: `{pair}`: it must be KEY=VALUE, such as crf=20")));
        };
        options.extend([format!("-{key}"), value.to_owned()]);
    }
    if !ffmpeg::has_encoder(encoder)? {
        let presets = PRESETS.join(", ");
        return Err(Failure::new(format!(
            "--encoder {name}: the ffmpeg of this machine has no encoder `{encoder}`; the presets are {presets}, and `ffmpeg -encoders` lists the others"
        )));
    }
    let wrong =
        || Failure::new(format!("--pixels: `{pixels}`: not of a kind that is written: yuv or gbrp, 8 to 16 bits"));
    let bits = ffmpeg::bits(pixels).ok_or_else(wrong)?;
    let rgb = pixels.starts_with("gbrp") || pixels.starts_with("rgb");
    if !(rgb || pixels.starts_with("yuv") || pixels.starts_with("p0") || pixels == "nv12") || pixels.contains('a') {
        return Err(wrong());
    }
    let codes = how.display.as_ref().map_or(Codes { primaries: code::UNSPECIFIED, transfer: code::UNSPECIFIED }, codes);
    let wide = codes.primaries == code::BT2020;
    let end = if bits > 8 { format!("{bits}le") } else { String::new() };
    let full = pixels.starts_with("yuvj");
    let (planes, kind) = match rgb {
        true => (Coding::Rgb, "gbrp"),
        false => (
            Coding::Luma { full, weights: if wide { BT2020 } else { BT709 } },
            if full { "yuvj444p" } else { "yuv444p" },
        ),
    };
    let range = if rgb || full { "full" } else { "limited" };
    let layout = Layout { name: format!("{kind}{end}"), range, planes: Planes { bits, coding: planes } };
    let mut all = vec!["-c:v".to_owned(), encoder.to_owned()];
    all.extend(options);
    let mut notes = Vec::new();
    if hdr && bits < 10 {
        notes.push("8 bits band in high dynamic range: 10 bits or more hold it".to_owned());
    }
    Ok(Choice {
        said: format!("{name}: {encoder}, {pixels}, {range} range"),
        options: all,
        pixels: pixels.to_owned(),
        width,
        layout,
        codes,
        matrix: if rgb {
            "gbr"
        } else if wide {
            "bt2020nc"
        } else {
            "bt709"
        },
        notes,
    })
}
