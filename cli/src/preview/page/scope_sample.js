// What the scopes count on the processor: the bins of scope_counts.js by the same tables. A graphics card in software takes far longer
// for as many pixels.

import { CHROMA, COLUMNS, ROWS } from "./scope_counts.js";

// Loops over pixels: numbers by themselves, as arrays of three would be made anew for each.
const within = (v) => (v > 0 ? (v < 1 ? v : 1) : 0);

// A colour by a cube, by tetrahedra as the picture's program has it, into `out`.
function tetrahedral(nodes, n, out) {
    const last = n - 1;
    const [red, green, blue] = [within(out[0]) * last, within(out[1]) * last, within(out[2]) * last];
    const i = Math.min(Math.floor(red), last - 1);
    const j = Math.min(Math.floor(green), last - 1);
    const k = Math.min(Math.floor(blue), last - 1);
    const x = red - i;
    const y = green - j;
    const z = blue - k;
    const far = 3 * n;
    const deep = far * n;
    // From the lowest corner along the largest fraction first, to the highest along the smallest last.
    const first = x >= y ? (x >= z ? 3 : deep) : y >= z ? far : deep;
    const third = x >= y ? (y >= z ? deep : far) : x >= z ? deep : 3;
    const most = Math.max(x, y, z);
    const least = Math.min(x, y, z);
    const middle = x + y + z - most - least;
    const a = 3 * i + far * j + deep * k;
    const d = a + 3 + far + deep;
    for (let c = 0; c < 3; c += 1) {
        out[c] = (1 - most) * nodes[a + c] + (most - middle) * nodes[a + first + c] + (middle - least) * nodes[d - third + c] + least * nodes[d + c];
    }
}

// A signal as if the camera had been exposed more, by a table.
function exposed(table, signal) {
    const last = table.length - 1;
    const place = within(signal) * last;
    const low = Math.min(Math.floor(place), last - 1);
    return table[low] + (table[low + 1] - table[low]) * (place - low);
}

// Begins to count every `every`th pixel across and down of a frame into `kinds`. Bins are as the card's are: RGBA floats for each,
// rows from the lowest up. `nudge`: the table of one, or null.
export function begin(frame, kinds, scales, cube, { nudge, every }) {
    const [across, down] = [frame.width, frame.height].map((v) => Math.ceil(v / every));
    const columns = Math.min(COLUMNS, across);
    const bins = Object.fromEntries(kinds.map((kind) => [kind, new Float32Array(4 * ROWS[kind] * (kind === "chroma" ? CHROMA.bins : columns))]));
    return { kinds, every, across, down, columns, bins, done: 0, of: { frame, scales, cube, nudge } };
}

// Counts the next rows of it.
export function rows(work, most) {
    const { every, across, columns, bins: { stops, display, chroma }, of: { frame: { width, channels, signal }, scales, cube: { points, nodes }, nudge } } = work;
    const { bins, light } = scales;
    const [xr, xg, xb, yr, yg, yb, zr, zg, zb] = scales.to_xyz.flat();
    const out = [0, 0, 0];
    const codes = [0, 0, 0];
    const to = Math.min(work.done + most, work.down);
    for (let line = work.done; line < to; line += 1) {
        for (let place = 0; place < across; place += 1) {
            const at = channels * every * (line * width + place);
            const column = Math.floor((place * columns) / across);
            for (let c = 0; c < 3; c += 1) {
                const code = signal[at + c];
                if (stops) stops[4 * (bins[code] * columns + column) + c] += 1;
                out[c] = nudge ? exposed(nudge, code / 65535) : code / 65535;
            }
            if (!display && !chroma) continue;
            tetrahedral(nodes, points, out);
            for (let c = 0; c < 3; c += 1) {
                codes[c] = Math.floor(within(out[c]) * 1023 + 0.5);
                if (display) display[4 * ((codes[c] >> 2) * columns + column) + c] += 1;
            }
            if (!chroma) continue;
            const r = light[codes[0]];
            const g = light[codes[1]];
            const b = light[codes[2]];
            const x = xr * r + xg * g + xb * b;
            const y = yr * r + yg * g + yb * b;
            const sum = x + 15 * y + 3 * (zr * r + zg * g + zb * b);
            // No light has no chromaticity: it is not counted.
            if (!(sum > 0)) continue;
            const u = Math.floor((4 * x) / sum / CHROMA.width);
            const v = Math.floor((9 * y) / sum / CHROMA.width);
            if (u >= 0 && v >= 0 && u < CHROMA.bins && v < CHROMA.bins) chroma[4 * (v * CHROMA.bins + u)] += 1;
        }
    }
    work.done = to;
}
