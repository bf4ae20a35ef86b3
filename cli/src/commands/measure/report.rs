//! The report as text.

use super::rate::rating;
use super::{Findings, Measured, ZONES};
use crate::output::{COLUMNS, wrap};
use rushlight::measure::compare::{Row, Zone};
use rushlight::measure::modes::{Finding, Pairs, words};
use rushlight::measure::{CHANNELS, Channel, State, Used};
use rushlight::processing::noise::{FRESH, INTERPOLATION};
use std::fmt::Write as _;

pub(super) fn text(findings: &Findings) -> String {
    let mut parts: Vec<String> = findings.measured.iter().map(|m| one(m, findings.snr)).collect();
    if !findings.compared.is_empty() {
        let smoothed = findings.measured.iter().any(|m| m.noise.is_smoothed());
        parts.push(compared(&findings.compared, if smoothed { ", as seen" } else { "" }));
        if smoothed {
            parts.push(compared(&findings.compared_white, ", with white noise of the same low-frequency power"));
        }
    }
    if let Some(pairs) = &findings.modes {
        parts.push(modes(pairs));
    }
    parts.extend(findings.colour.as_ref().map(super::colour::text));
    parts.extend(super::processing::text(findings));
    parts.push(wrapped(
        "The result describes the whole chain: lens, sensor, development and codec. Measure again when one of them changes. Noise reduction in the camera flatters noise, floor and latitude.",
    ));
    parts.join("\n")
}

pub(super) fn wrapped(text: &str) -> String {
    wrap(text, COLUMNS).iter().map(|l| format!("{l}\n")).collect()
}

pub(super) fn field(text: &mut String, name: &str, said: &str) {
    for (i, line) in wrap(said, COLUMNS - 12).into_iter().enumerate() {
        let name = if i == 0 { name } else { "" };
        let _ = writeln!(text, "{}", format!("  {name:<10}{line}").trim_end());
    }
}

/// A signal as a code value of 10 bits.
fn code(signal: f64) -> f64 {
    1023.0 * signal
}

fn one(measured: &Measured, snr: f64) -> String {
    let (m, bracket) = (&measured.measurement, &measured.bracket);
    let mut text = String::new();
    let ei = measured.ei.map_or("EI not given".to_owned(), |ei| format!("EI {ei}"));
    let _ = writeln!(text, "{ei}: {} exposures", m.exposures.len());
    if let Some(why) = super::rate::off_the_curve(measured).filter(|_| matches!(m.used, Used::Claimed(_))) {
        field(&mut text, "DOUBTFUL", &format!("{why}. --write refuses this"));
    }
    text += &verdict(measured);
    let p = bracket.patch;
    let noise = if m.temporal { "noise between frames" } else { "noise across the patch" };
    field(&mut text, "patch", &format!("{p} of {} x {}; {noise}", bracket.size[0], bracket.size[1]));
    if let Some(choice) = &bracket.choice {
        let best = &choice.best;
        let follows = best.deviation.map_or(String::new(), |d| {
            format!(", which follows the stops within {d:.3} (root mean square, without the darkest exposures)")
        });
        let next = match &choice.runner_up {
            Some(r) => format!("next best {}, {:+.2} stops from it (`o`)", r.patch, r.stops),
            None => "no other patch".to_owned(),
        };
        let said = format!("found (`#`), {:.0} % of the frame{follows}; {next}", 100.0 * best.share);
        field(&mut text, "", &said);
        for line in super::picture::map(measured) {
            field(&mut text, "", &line);
        }
    }
    let name = &m.used.claim().name;
    let curve = match &m.used {
        Used::Claimed(_) if name.contains(" at EI ") => format!("{name}, the EI of the frames, as given"),
        Used::Claimed(_) => format!("{name}, as given"),
        Used::Published(_) => format!("{name}, the published curve that fits best"),
        Used::Alike(_) => {
            let alike: Vec<&str> = m.matches.iter().filter(|f| f.alike).map(|f| f.claim.name.as_str()).collect();
            format!(
                "this bracket fits several curves: {}; light is calculated with {name}, whose mid-grey is nearest to the meter's: give the curve of the camera with --curve",
                alike.join(", ")
            )
        }
        Used::Fitted(_, fitted) => {
            format!("{name}, since no published curve fits: error {:.3} stops (root mean square)", fitted.rms)
        }
    };
    field(&mut text, "curve", &curve);
    if let Used::Fitted(_, fitted) = &m.used {
        let each: Vec<String> = fitted.residuals.iter().map(|(stops, r)| format!("{r:+.2} at {stops:+}")).collect();
        field(&mut text, "residuals", &format!("{} (stops)", each.join(", ")));
    }
    let mut matches: Vec<_> = m.matches.iter().collect();
    matches.sort_by(|a, b| a.rms.total_cmp(&b.rms));
    let fits = matches.iter().map(|f| {
        let moved = if f.offset.abs() < 0.005 { String::new() } else { format!(" if moved by {:+.2} stops", f.offset) };
        format!("{}, error {:.3} stops{moved}", f.claim.name, f.rms)
    });
    let fits: Vec<String> = fits.collect();
    if !fits.is_empty() {
        let (name, what) = match &m.used {
            Used::Fitted(..) => ("nearest", "published curves, none of which fits"),
            _ => ("fits", "published curves, best first"),
        };
        field(&mut text, name, &format!("{what}: {}", fits.join("; ")));
    }

    text += "\n             grey    clip   stops   floor   stops  offset deviation\n";
    for (c, channel) in m.channels.iter().enumerate() {
        text += &channel_line(CHANNELS[c], channel);
    }
    text += &wrapped(&format!(
        "Levels in 10-bit codes, stops from the measured mid-grey. Floor: signal-to-noise ratio is {}. Offset: how many stops the meter's mid-grey lies above the curve's. Deviation: the largest difference from the curve, after the offset is taken away, in stops, of exposures with a signal of 8 times the noise or more.",
        usable(snr)
    ));

    text += "\n  stops   signal    code deviation  noise   noise  signal/\n";
    text += "                   green     stops  codes   stops    noise\n";
    for shot in &m.exposures {
        let r = &shot.channels[1];
        let state = match r.state {
            State::Good if r.coarse => "  noise is smaller than a code",
            State::Good => "",
            State::Touched => "  clips in part",
            State::Clipped => "  clipped",
        };
        let deviation = r.deviation.map_or("-".to_owned(), |d| format!("{:+.3}", d - m.channels[1].offset));
        let (stops, ratio) = match (r.state, r.noise_stops()) {
            (State::Good, Some(stops)) if r.noise > 0.0 => (format!("{stops:.3}"), format!("{:.1}", r.light / r.noise)),
            _ => ("-".to_owned(), "-".to_owned()),
        };
        let _ = writeln!(
            text,
            "{:+7.2} {:8.5} {:7.1} {deviation:>9} {:6.2} {stops:>7} {ratio:>8}{state}",
            shot.stops,
            r.signal,
            code(r.signal),
            code(r.signal_noise)
        );
    }
    text.push('\n');
    text += &photon_transfer(&m.channels);
    for remark in &m.remarks {
        field(&mut text, "note", remark);
    }
    text
}

/// The result: latitude and rating, and whether smoothing flatters them.
fn verdict(measured: &Measured) -> String {
    let m = &measured.measurement;
    let mut text = String::new();
    match (m.clip(), m.floor()) {
        (Some(clip), Some(floor)) => field(
            &mut text,
            "latitude",
            &format!(
                "{:.1} stops: {:.2} over mid-grey, {:.1} under",
                clip.stops - floor.stops,
                clip.stops,
                -floor.stops
            ),
        ),
        (None, Some(floor)) => field(
            &mut text,
            "latitude",
            &format!("{:.1} stops under mid-grey; the bracket does not reach the clip", -floor.stops),
        ),
        _ => field(&mut text, "latitude", "unknown: the noise could not be measured"),
    }
    let noise = &measured.noise;
    if let (Some(pixels), Some(seen), Some(floor)) =
        (noise.smoothed_pixels, noise.seen.floor_stops, noise.white.floor_stops)
        && noise.is_smoothed()
    {
        let frames = noise.averaged_frames.filter(|frames| *frames > FRESH);
        let frames = frames.map(|frames| format!(" and {frames:.1} frames")).unwrap_or_default();
        let said = format!(
            "over about {pixels:.1} pixels{frames} (debayering alone: up to {INTERPOLATION} pixels). With white noise of the same low-frequency power the floor is {floor:.1} stops, {:.1} higher than seen",
            floor - seen
        );
        field(&mut text, "smoothed", &said);
    }
    if let Some(why) = &noise.flattered {
        field(&mut text, "flattered", why);
    }
    if let Some(r) = rating(measured) {
        let clip = r.clip.map(|v| format!("clip = {v}")).unwrap_or_else(|| "no clip".to_owned());
        let floor = r.floor_stops.map(|v| format!("floor_stops = {v:.1}")).unwrap_or_else(|| "no floor".to_owned());
        // Never the flattered one alone.
        let white = noise.flattered.as_ref().and(noise.white.floor_stops.zip(m.floor()));
        let white = white.map(|(white, seen)| white - seen.stops + seen.rated);
        let white = white.map(|stops| format!(" as seen, {stops:.1} with white noise")).unwrap_or_default();
        field(&mut text, "rating", &format!("ei = {}, {clip}, {floor}{white}", r.ei));
    }
    text
}

/// The ratio of the floor, and the standard that has it: from memory, as the library says.
pub(super) fn usable(snr: f64) -> String {
    if snr == 1.0 {
        "1, the lower end of dynamic range by ISO 15739".to_owned()
    } else {
        format!("{snr} (ISO 15739 ends dynamic range at 1)")
    }
}

fn channel_line(name: &str, channel: &Channel) -> String {
    let over = if channel.clip.seen { " " } else { ">" };
    let (floor, stops) = channel
        .floor
        .map_or(("-".to_owned(), "-".to_owned()), |f| (format!("{:.1}", code(f.signal)), format!("{:+.2}", f.stops)));
    format!(
        "  {name:<8} {:6.1} {over}{:6.1} {:+7.2} {floor:>7} {stops:>7} {:+7.2} {:+9.2}\n",
        code(channel.grey),
        code(channel.clip.signal),
        channel.clip.stops,
        channel.offset,
        channel.worst
    )
}

fn photon_transfer(channels: &[Channel; 3]) -> String {
    let mut text = "  variance of light x = a + b x + c x^2 (photon transfer, EMVA 1288)\n".to_owned();
    text += "                   a         b         c   read noise   full well\n";
    for (c, channel) in channels.iter().enumerate() {
        let Some(n) = channel.noise else {
            let _ = writeln!(text, "  {:<8} could not be measured", CHANNELS[c]);
            continue;
        };
        let electrons = |light: f64| n.electrons(light).map_or("-".to_owned(), |e| format!("{e:.1} e"));
        let clip = rushlight::math::exp2(channel.clip.stops + channel.offset) * rushlight::transfer::MID_GREY;
        let well = n.electrons(clip).map_or("-".to_owned(), |e| format!("{e:.0} e"));
        let _ = writeln!(
            text,
            "  {:<8} {:9.2e} {:9.2e} {:9.2e} {:>12} {:>11}",
            CHANNELS[c],
            n.dark,
            n.gain,
            n.fixed,
            electrons(n.dark.sqrt()),
            well
        );
    }
    text
}

fn compared(rows: &[Row], what: &str) -> String {
    let mut text = wrapped(&format!("exposure indices at one final brightness, noise in stops (and percent){what}"));
    text += "\n  zone  ";
    for row in rows {
        let over = if row.over == 0.0 { String::new() } else { format!(" {:+}", row.over) };
        let _ = write!(text, "{:>16}", format!("EI {}{over}", row.ei));
    }
    text.push('\n');
    for (i, zone) in ZONES.iter().enumerate().rev() {
        let _ = write!(text, "  {zone:+4.0}  ");
        for row in rows {
            let said = match row.zones[i] {
                Zone::Noise(stops) => {
                    format!("{stops:.3} ({:.1} %)", row.zones[i].percent().unwrap_or(f64::NAN))
                }
                Zone::Clipped => "clipped".to_owned(),
                Zone::Drowned => "below floor".to_owned(),
            };
            let _ = write!(text, "{said:>16}");
        }
        text.push('\n');
    }
    let mut edge = |name: &str, of: &dyn Fn(&Row) -> Option<f64>| {
        let _ = write!(text, "  {name:<6}");
        for row in rows {
            let _ = write!(text, "{:>16}", of(row).map_or("-".to_owned(), |v| format!("{v:+.2}")));
        }
        text.push('\n');
    };
    edge("clip", &|r| Some(r.clip));
    edge("floor", &|r| r.floor);
    let moved = rows.iter().find(|row| row.over != 0.0).map(|row| {
        let (way, back) = if row.over > 0.0 { ("over", "down") } else { ("under", "up") };
        let stops = if row.over.abs() == 1.0 { "stop" } else { "stops" };
        let Row { ei, over, .. } = row;
        format!("; EI {ei} {over:+} is exposed {} {stops} {way} and brought {back} by as much", over.abs())
    });
    text + &wrapped(&format!(
        "Zones are stops from mid-grey of the final picture{}. The worst channel counts.",
        moved.unwrap_or_default()
    ))
}

fn modes(pairs: &[Pairs; 3]) -> String {
    let mut text = "modes: the second against the first\n".to_owned();
    let found = pairs.each_ref().map(Pairs::findings);
    let kinds = |f: &[Finding]| f.iter().map(std::mem::discriminant).collect::<Vec<_>>();
    if found.iter().all(|f| kinds(f) == kinds(&found[1])) {
        for finding in &found[1] {
            text += &format!("  {}\n", wrap(&words(finding, None), COLUMNS - 2).join("\n  "));
        }
    } else {
        for (c, findings) in found.iter().enumerate() {
            for finding in findings {
                text += &format!("  {}\n", wrap(&words(finding, Some(c)), COLUMNS - 2).join("\n  "));
            }
        }
    }
    text
}
