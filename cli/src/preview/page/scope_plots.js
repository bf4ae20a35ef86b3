// Each scope: its scale, what it draws, and what it says in words. `counted` is what the card counted; `scales` what it is
// measured by.

import { TO_XYZ } from "./constants.js";
import { plain, signed } from "./dom.js";
import { CHROMA, STOPS } from "./scope_counts.js";
import { COLOURS, bright, clear, hill, line, names, paint, panes, text, under, waveform } from "./scope_draw.js";

const LEFT = { left: 2.9, right: 0.5, top: 0.8, bottom: 0.8 };
const BELOW = { left: 0.8, right: 0.8, top: 0.6, bottom: 1.7 };

// ---------------------------------------------------------------------------------------------------------- stops

// Whole stops, as many as show all that the camera has.
function reach({ clip, floor }) {
    const [low, high] = [Math.floor(Math.min(floor.stop, -6) - 1), Math.ceil(Math.max(clip.stop, 4) + 1)];
    return [Math.max(low, STOPS.low), Math.min(high, STOPS.high)];
}

const rowOf = (stop) => Math.round((stop - STOPS.low) * STOPS.bins);

// Every so many stops has a number, so that they do not touch.
const spaced = (room, size) => [1, 2, 4].find((n) => n * room >= size) ?? 4;

const shade = (stop, every) => (stop === 0 ? COLOURS.strong : stop % every ? COLOURS.faint : COLOURS.rule);

const stopsFrom = (low, high) => Array.from({ length: high - low + 1 }, (_, i) => low + i);

const ENDS = ["clip", "floor"];

export function stops(plot, { stops: counted }, { scales, isSide }) {
    clear(plot);
    const area = panes(plot, isSide, LEFT);
    const [low, high] = reach(scales);
    const y = (stop) => area.bottom - ((stop - low) / (high - low)) * area.down;
    waveform(plot, area, counted, [low, high].map(rowOf));
    const every = spaced(area.down / (high - low), 1.25 * plot.size);
    under(plot, () => stopsFrom(low, high).forEach((stop) => line(plot, [[area.left, y(stop)], [area.right, y(stop)]], shade(stop, every))));
    for (const stop of stopsFrom(low, high)) {
        if (stop % every === 0) text(plot, signed(stop, 0), area.left - 0.4 * plot.size, y(stop), { align: "right" });
    }
    for (const name of ENDS) {
        const { stop } = scales[name];
        line(plot, [[area.left, y(stop)], [area.right, y(stop)]], COLOURS.mark, { dash: [4, 3] });
        text(plot, `${name} ${signed(stop, 1)}`, area.right - 2, y(stop) + (name === "clip" ? -0.65 : 0.75) * plot.size, { align: "right", colour: COLOURS.mark });
    }
    names(plot, area);
}

// Pixels of each row, over all columns, channel by channel.
function sums({ bins, columns, rows }) {
    const all = [0, 1, 2].map(() => new Float64Array(rows));
    for (let row = 0; row < rows; row += 1) {
        for (let column = 0; column < columns; column += 1) for (let c = 0; c < 3; c += 1) all[c][row] += bins[4 * (row * columns + column) + c];
    }
    return all;
}

// Where so great a share of the pixels of all channels lies under.
function quantile(all, share) {
    const rows = all[0].map((_, i) => all[0][i] + all[1][i] + all[2][i]);
    const wanted = share * rows.reduce((a, b) => a + b, 0);
    let sum = 0;
    return rows.findIndex((v) => (sum += v) >= wanted);
}

function spread(counted) {
    const all = sums(counted);
    const [low, middle, high] = [0.05, 0.5, 0.95].map((share) => signed(STOPS.low + (quantile(all, share) + 0.5) / STOPS.bins, 1));
    return `nine tenths of it between ${low} and ${high}, the middle at ${middle}`;
}

const endWords = ({ clip, floor, ei }) => `${ei === null ? "" : `at EI ${ei} `}the clip is at ${signed(clip.stop, 1)} and the floor at ${signed(floor.stop, 1)}`;

export const stopsWords = ({ stops: counted }, { scales }) => `Waveform of the camera\u2019s channels in stops from mid-grey: ${spread(counted)}; ${endWords(scales)}.`;

// ------------------------------------------------------------------------------------------------------ histogram

const percent = (share) => (share > 0 && share < 0.0005 ? "under 0.1 %" : `${plain(100 * share, share < 0.0995 ? 1 : 0)} %`);

// Shares of red, green and blue at or over the clip, and under the floor.
export const sharesWords = ({ over, under: below }) => `Red, green, blue at the clip: ${over.map(percent).join(", ")}; under the floor: ${below.map(percent).join(", ")}`;

export function histogram(plot, { stops: counted }, { scales, isSide }) {
    clear(plot);
    const area = panes(plot, isSide, BELOW);
    const [low, high] = reach(scales);
    const [from, to] = [low, high].map(rowOf);
    const all = sums(counted);
    for (const channel of all) {
        // What lies beyond the scale is in its outermost bins.
        for (let i = 0; i < from; i += 1) channel[from] += channel[i];
        for (let i = to; i < channel.length; i += 1) channel[to - 1] += channel[i];
    }
    const most = Math.max(...all.map((channel) => Math.max(...channel.subarray(from, to))), 1);
    for (const pane of area.list) {
        const x = (stop) => pane.x + ((stop - low) / (high - low)) * pane.across;
        for (const c of pane.channels) hill(plot, pane, area, Array.from(all[c].subarray(from, to), (v) => Math.sqrt(v / most)), c);
        const every = spaced(pane.across / (high - low), 2.2 * plot.size);
        under(plot, () => stopsFrom(low, high).forEach((stop) => line(plot, [[x(stop), area.top], [x(stop), area.bottom]], shade(stop, every))));
        for (const stop of stopsFrom(low, high)) {
            if (stop % every === 0) text(plot, signed(stop, 0), x(stop), area.bottom + 0.9 * plot.size, { align: "center" });
        }
        for (const name of ENDS) {
            const { stop } = scales[name];
            line(plot, [[x(stop), area.top], [x(stop), area.bottom]], COLOURS.mark, { dash: [4, 3] });
            if (!isSide) text(plot, name, x(stop) + (name === "clip" ? 0.3 : -0.3) * plot.size, area.top + 0.6 * plot.size, { align: name === "clip" ? "left" : "right", colour: COLOURS.mark });
        }
    }
    names(plot, area);
}

export function histogramWords({ stops: counted }, { scales }) {
    return `Histogram of the camera\u2019s channels in stops from mid-grey, its height the square root of the pixels: ${spread(counted)}; ${endWords(scales)}.`;
}

// -------------------------------------------------------------------------------------------------------- display

const NITS = [0.01, 0.1, 1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 4000, 10000];

// The code of a grey of so many nits.
function codeOfNits({ nits }, wanted) {
    const high = nits.findIndex((v) => v >= wanted);
    if (high <= 0) return high === 0 ? 0 : nits.length - 1;
    return high - 1 + (wanted - nits[high - 1]) / (nits[high] - nits[high - 1]);
}

function ticks(scales, unit) {
    const { black_code: black, white_code: white, peak } = scales;
    if (unit === "percent") return [0, 10, 20, 30, 40, 50, 60, 70, 80, 90, 100].map((p) => ({ code: black + (p / 100) * (white - black), label: `${p}`, whole: p % 50 === 0 }));
    const list = NITS.filter((n) => n < 0.99 * peak && n > scales.nits[0]).map((n) => ({ code: codeOfNits(scales, n), label: `${n}`, whole: false }));
    return [...list, { code: white, label: plain(peak, 0), whole: true }];
}

// Levels of a display that are worth a line: legal limits, and diffuse white where it is not the peak.
function limits(scales) {
    const { legal, hdr, black_code: black, white_code: white, diffuse_white: diffuse } = scales;
    return [
        legal && { code: white, label: `legal ${white}` }, legal && { code: black, label: `legal ${black}`, isLow: true },
        hdr && { code: codeOfNits(scales, diffuse), label: `diffuse white ${plain(diffuse, 0)} nits` },
    ].filter(Boolean);
}

export function display(plot, { display: counted }, { scales, isSide, unit }) {
    clear(plot);
    const area = panes(plot, isSide, LEFT);
    const y = (code) => area.bottom - ((code + 0.5) / 1024) * area.down;
    waveform(plot, area, counted, [0, counted.rows]);
    const all = ticks(scales, unit);
    under(plot, () => all.forEach(({ code, whole }) => line(plot, [[area.left, y(code)], [area.right, y(code)]], whole ? COLOURS.strong : COLOURS.rule)));
    // From the top down, as long as there is room.
    let free = -Infinity;
    for (const { code, label } of all.toReversed()) {
        if (y(code) - free < 1.2 * plot.size) continue;
        text(plot, label, area.left - 0.4 * plot.size, y(code), { align: "right" });
        free = y(code);
    }
    for (const { code, label, isLow } of limits(scales)) {
        line(plot, [[area.left, y(code)], [area.right, y(code)]], COLOURS.mark, { dash: [4, 3] });
        text(plot, label, area.right - 2, y(code) + (isLow ? -0.65 : 0.75) * plot.size, { align: "right", colour: COLOURS.mark });
    }
    names(plot, area);
}

export function displayWords({ display: counted }, { scales, unit }) {
    const all = sums(counted);
    const of = (share) => {
        const code = 4 * quantile(all, share) + 1.5;
        if (unit === "nits") return plain(scales.nits[Math.round(code)], 1);
        return plain((100 * (code - scales.black_code)) / (scales.white_code - scales.black_code), 0);
    };
    const name = unit === "nits" ? "nits of a grey" : "% of the signal";
    return `Waveform of the display\u2019s channels, in ${name}: nine tenths of it between ${of(0.05)} and ${of(0.95)}, the middle at ${of(0.5)}.`;
}

// --------------------------------------------------------------------------------------------------- chromaticity

const REACH = CHROMA.bins * CHROMA.width;

function inverse([[a, b, c], [d, e, f], [g, h, i]]) {
    const [A, B, C] = [e * i - f * h, f * g - d * i, d * h - e * g];
    const det = a * A + b * B + c * C;
    return [[A, c * h - b * i, b * f - c * e], [B, a * i - c * g, c * d - a * f], [C, b * g - a * h, a * e - b * d]].map((row) => row.map((v) => v / det));
}

const FROM_XYZ = inverse(TO_XYZ);

// A colour of a chromaticity for this screen, as bright as can be: it helps the eye to find its place, and is no measure.
function tint(u, v) {
    const [x, y] = [(9 * u) / (4 * v), 1];
    const z = (12 - 3 * u - 20 * v) / (4 * v);
    const rgb = FROM_XYZ.map((row) => Math.max(row[0] * x + row[1] * y + row[2] * z, 0));
    const most = Math.max(...rgb, 1e-9);
    return rgb.map((c) => 255 * (0.25 + 0.75 * (c / most) ** (1 / 2.2)));
}

let tints = null;

function dots({ bins }, pixels) {
    const n = CHROMA.bins;
    tints ??= Array.from({ length: n * n }, (_, i) => tint(((i % n) + 0.5) * CHROMA.width, (Math.floor(i / n) + 0.5) * CHROMA.width));
    const made = new ImageData(n, n);
    for (let row = 0; row < n; row += 1) {
        for (let column = 0; column < n; column += 1) {
            const from = row * n + column;
            const at = 4 * ((n - 1 - row) * n + column);
            const b = bright((100 * bins[4 * from]) / pixels);
            for (let i = 0; i < 3; i += 1) made.data[at + i] = b * tints[from][i];
            made.data[at + 3] = 255;
        }
    }
    return made;
}

export function chromaticity(plot, { chroma: counted }, { scales, pixels }) {
    clear(plot);
    const { context, width, height, size } = plot;
    const side = Math.min(width - 3 * size, height - 2.1 * size);
    const [left, bottom] = [(width - side) / 2 + 0.9 * size, height - 1.6 * size];
    const at = ([u, v]) => [left + (u / REACH) * side, bottom - (v / REACH) * side];
    paint(plot, dots(counted, pixels), left, bottom - side, side, side);
    context.save();
    context.beginPath();
    context.rect(left, bottom - side, side, side);
    context.clip();
    under(plot, () => {
        for (let i = 0; i <= 6; i += 1) {
            line(plot, [at([i / 10, 0]), at([i / 10, REACH])], COLOURS.faint);
            line(plot, [at([0, i / 10]), at([REACH, i / 10])], COLOURS.faint);
        }
    });
    const ring = (list, colour, options) => {
        const points = list.filter(Boolean).map(at);
        if (points.length > 1) line(plot, [...points, points[0]], colour, options);
    };
    ring(scales.locus, COLOURS.strong);
    ring(scales.camera_gamut, COLOURS.ink, { dash: [2, 3] });
    ring(scales.display_gamut, COLOURS.mark);
    line(plot, scales.skin.map(at), "#000000", { wide: 3.4 });
    line(plot, scales.skin.map(at), "#ffd9b8", { wide: 1.8 });
    const [x, y] = at(scales.white);
    line(plot, [[x - 0.4 * size, y], [x + 0.4 * size, y]], COLOURS.mark);
    line(plot, [[x, y - 0.4 * size], [x, y + 0.4 * size]], COLOURS.mark);
    context.restore();
    // The names of the axes stand where 0.6 would.
    for (let i = 0; i <= 4; i += 2) {
        text(plot, `${i / 10}`, at([i / 10, 0])[0], bottom + 0.8 * size, { align: "center" });
        if (i) text(plot, `${i / 10}`, left - 0.3 * size, at([0, i / 10])[1], { align: "right" });
    }
    text(plot, "u\u2032", at([REACH - 0.01, 0])[0], bottom + 0.8 * size, { align: "center" });
    text(plot, "v\u2032", left - 0.3 * size, at([0, REACH - 0.01])[1], { align: "right" });
    const key = [["display", COLOURS.mark, {}], ["camera", COLOURS.ink, { dash: [2, 3] }], ["skin", "#ffd9b8", { wide: 1.8 }]];
    for (const [i, [name, colour, options]] of key.entries()) {
        const row = bottom - (0.8 + 1.25 * (2 - i)) * size;
        const end = left + side - 0.4 * size;
        line(plot, [[end - 6.3 * size, row], [end - 4.6 * size, row]], colour, options);
        text(plot, name, end - 4.2 * size, row);
    }
}

export function chromaticityWords({ chroma: { bins } }, { scales }) {
    let [sum, u, v] = [0, 0, 0];
    for (let i = 0; i < CHROMA.bins ** 2; i += 1) {
        sum += bins[4 * i];
        u += bins[4 * i] * ((i % CHROMA.bins) + 0.5) * CHROMA.width;
        v += bins[4 * i] * (Math.floor(i / CHROMA.bins) + 0.5) * CHROMA.width;
    }
    const mean = sum ? `; the mean of its pixels is at ${plain(u / sum, 3)}, ${plain(v / sum, 3)}` : "";
    return `Chromaticity of the display\u2019s light, CIE 1976 u\u2032 v\u2032: white is at ${scales.white.map((c) => plain(c, 3)).join(", ")}${mean}.`;
}

