// How scopes are drawn: type, lines, panes for channels, and counts as an image. On black in light and dark pages alike, so that a
// saved picture is what was seen. A plot is { context, width, height, size } in pixels of the canvas; `size` is that of type.

export const COLOURS = { ground: "#000000", ink: "#c8c8c8", faint: "#1f1f1f", rule: "#3c3c3c", strong: "#8c8c8c", mark: "#ffffff" };
export const CHANNELS = ["Red", "Green", "Blue"];
// Light of each channel: together they are white, as all three at one place are.
const LIGHT = [[255, 40, 30], [20, 215, 40], [40, 60, 255]];
// For three panes beside each other, each as bright as the others.
const ALONE = [[255, 110, 100], [80, 225, 90], [120, 150, 255]];

// Black, as a pixel of an image.
const OPAQUE = new Uint32Array(new Uint8Array([0, 0, 0, 255]).buffer)[0];

// Canvases of this size are drawn by the processor as fast as by any card, and far faster than by one in software.
export const BY_PROCESSOR = { willReadFrequently: true };

// A share of pixels as brightness: 0.2 for a decade, so that few pixels are seen beside many.
export const bright = (share) => (share > 0 ? Math.min(Math.max(1 + 0.2 * Math.log10(share), 0.22), 1) : 0);

export function clear({ context, width, height }) {
    context.fillStyle = COLOURS.ground;
    context.fillRect(0, 0, width, height);
}

export function line({ context, size }, points, colour, { dash = [], wide = 1 } = {}) {
    context.strokeStyle = colour;
    context.lineWidth = Math.max((wide * size) / 11, 1);
    context.setLineDash(dash.map((part) => (part * size) / 11));
    context.beginPath();
    for (const [i, [x, y]] of points.entries()) {
        if (i === 0) context.moveTo(x, y);
        else context.lineTo(x, y);
    }
    context.stroke();
    context.setLineDash([]);
}

// Text with a dark edge, as it may lie over what is drawn.
export function text({ context, size }, words, x, y, { align = "left", colour = COLOURS.ink, scale = 1 } = {}) {
    context.font = `${scale * size}px Inter, system-ui, "Liberation Sans", Arial, sans-serif`;
    context.textAlign = align;
    context.textBaseline = "middle";
    context.strokeStyle = COLOURS.ground;
    context.lineWidth = size / 3;
    context.lineJoin = "round";
    context.strokeText(words, x, y);
    context.fillStyle = colour;
    context.fillText(words, x, y);
}

// Lines of a scale that stay under what is brighter.
export function under({ context }, work) {
    context.globalCompositeOperation = "lighten";
    work();
    context.globalCompositeOperation = "source-over";
}

// Where a plot's panes lie: one for all channels, or one for each. `edge`: room for a scale, in sizes of type.
export function panes({ width, height, size }, isSide, edge) {
    const [left, right, top, bottom] = [edge.left, edge.right, edge.top, edge.bottom].map((e) => e * size);
    const [count, gap] = isSide ? [3, 0.4 * size] : [1, 0];
    const across = (width - left - right - gap * (count - 1)) / count;
    return {
        left, right: width - right, top, bottom: height - bottom, down: height - bottom - top,
        list: Array.from({ length: count }, (_, i) => ({ x: left + i * (across + gap), across, channels: isSide ? [i] : [0, 1, 2] })),
    };
}

// A name for each pane of a channel.
export function names(plot, area) {
    if (area.list.length === 1) return;
    for (const pane of area.list) text(plot, CHANNELS[pane.channels[0]], pane.x + 0.3 * plot.size, area.top + 0.7 * plot.size);
}

// Rows `from` to `to` of a waveform as an image, a pixel for each bin; what lies beyond is in the outermost.
// `counted`: { bins, columns, rows, high }, `high` the pixels of a column.
function image({ bins, columns, rows, high }, channels, [from, to]) {
    const colours = channels.length === 1 ? ALONE : LIGHT;
    const made = new ImageData(columns, to - from);
    new Uint32Array(made.data.buffer).fill(OPAQUE);
    const across = 4 * columns;
    const row = (r) => bins.subarray(r * across, (r + 1) * across);
    const sum = (first, last) => {
        const all = row(first).slice();
        for (let i = (first + 1) * across; i < (last + 1) * across; i += 1) all[i % across] += bins[i];
        return all;
    };
    // Counts are few, and their logarithms take longer than all the rest.
    const shades = [];
    for (let r = from; r < to; r += 1) {
        const counts = r === from ? sum(0, r) : r === to - 1 ? sum(r, rows - 1) : row(r);
        const line = made.data.subarray((to - 1 - r) * across, (to - r) * across);
        for (const c of channels) {
            const [red, green, blue] = colours[c];
            for (let i = 0; i < across; i += 4) {
                const n = counts[i + c];
                if (n === 0) continue;
                const b = (shades[n] ??= bright(n / high));
                line[i] += b * red;
                line[i + 1] += b * green;
                line[i + 2] += b * blue;
            }
        }
    }
    return made;
}

// An image over a part of a plot.
export function paint({ context }, made, x, y, across, down) {
    const copy = new OffscreenCanvas(made.width, made.height);
    copy.getContext("2d", BY_PROCESSOR).putImageData(made, 0, 0);
    context.imageSmoothingEnabled = true;
    context.drawImage(copy, x, y, across, down);
}

export function waveform(plot, area, counted, rows) {
    for (const { x, across, channels } of area.list) paint(plot, image(counted, channels, rows), x, area.top, across, area.down);
}

// The outline and light of a channel's histogram; `heights` from 0 to 1, left to right.
export function hill({ context, size }, { x, across, channels }, area, heights, channel) {
    const colour = (channels.length === 1 ? ALONE : LIGHT)[channel];
    context.globalCompositeOperation = "lighter";
    context.fillStyle = `rgb(${colour.map((v) => Math.round(0.65 * v)).join(" ")})`;
    context.beginPath();
    context.moveTo(x, area.bottom);
    for (const [i, h] of heights.entries()) {
        const y = area.bottom - h * (area.down - 0.2 * size);
        context.lineTo(x + (i / heights.length) * across, y);
        context.lineTo(x + ((i + 1) / heights.length) * across, y);
    }
    context.lineTo(x + across, area.bottom);
    context.fill();
    context.globalCompositeOperation = "source-over";
}
