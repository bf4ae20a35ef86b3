// The neutral curve over the stop ruler: what greys become, from eight stops under mid-grey to eight over.

import { clamp, draw, find, plain, say, signed } from "./dom.js";
import { css, neutral, signalAt } from "./signal.js";
import { change, drawn, state } from "./state.js";

const EDGE = { left: 40, right: 12, top: 12, ruler: 26, under: 20 };
const CHANNELS = ["red", "green", "blue"];
// Where the three run on one another, each shows at the sides of the next.
const WIDTHS = [3.6, 2.4, 1.3];
const FAR = 8;

function plot(width, height) {
    const bottom = height - EDGE.ruler - EDGE.under;
    return {
        width, height, bottom,
        x: (stop) => EDGE.left + ((stop + FAR) / (2 * FAR)) * (width - EDGE.left - EDGE.right),
        y: (out) => bottom - clamp(out, -0.02, 1.02) * (bottom - EDGE.top),
    };
}

function grid({ x, y, width, bottom }) {
    const lines = [0, 0.25, 0.5, 0.75, 1].map((out) => [
        draw("line", { class: "grid", x1: x(-FAR), x2: x(FAR), y1: y(out), y2: y(out) }),
        draw("text", { x: EDGE.left - 6, y: y(out) + 4, "text-anchor": "end" }, `${100 * out}`),
    ]);
    const every = width < 420 ? 2 : 1;
    const stops = [];
    for (let stop = -FAR; stop <= FAR; stop += every) {
        stops.push(draw("line", { class: stop === 0 ? "grey" : "grid", x1: x(stop), x2: x(stop), y1: EDGE.top, y2: bottom }));
        stops.push(draw("text", { x: x(stop), y: bottom + EDGE.ruler + 15, "text-anchor": "middle" }, stop === 0 ? "0" : signed(stop, 0)));
    }
    return [lines, stops];
}

const path = (points) => `M${points.map(([x, y]) => `${x.toFixed(1)} ${y.toFixed(1)}`).join("L")}`;

function lines({ x, y }, { stops }) {
    return CHANNELS.map((channel, i) => draw("path", {
        class: `channel ${channel}`, "stroke-width": WIDTHS[i], d: path(stops.map((s) => [x(s.stop), y(s.out[i])])),
    }));
}

// Each patch is what this screen shows for that grey: the cube's own diagonal.
function ruler({ x, bottom }, { stops, camera }, cube) {
    const patches = cube ? stops.filter((s) => s.stop < FAR).map((s) => {
        const middle = s.stop + 0.125;
        return draw("rect", {
            x: x(s.stop), y: bottom + 2, width: x(0.25) - x(0) + 0.5, height: EDGE.ruler - 4,
            fill: css(neutral(cube, clamp(camera.encode(2 ** middle), 0, 1))),
        });
    }) : [];
    return [patches, draw("rect", { class: "frame", x: x(-FAR), y: bottom + 2, width: x(FAR) - x(-FAR), height: EDGE.ruler - 4 })];
}

// Where the camera ends. Each label stands where the curve is not.
function mark({ x, bottom }, stop, label, y) {
    if (stop === null || stop === undefined || Math.abs(stop) > FAR) return [];
    return [
        draw("line", { class: "mark", x1: x(stop), x2: x(stop), y1: EDGE.top, y2: bottom + EDGE.ruler - 2 }),
        // Within the plot, also at its right end.
        draw("text", { class: "mark-label", x: x(stop) + (stop > FAR - 1 ? -4 : 4), y, "text-anchor": stop > FAR - 1 ? "end" : "start" }, label),
    ];
}

// Where the pixel that is read lies, channel by channel.
function pixel({ x, bottom }, at, frame, { camera }) {
    if (!at || !frame) return [];
    return signalAt(frame, at).map((signal, i) => {
        const light = camera.light(camera.nudged(signal, state.view.nudge));
        const stop = clamp(Math.log2(Math.max(light, 1e-9)), -FAR, FAR);
        const [px, py] = [x(stop), bottom + 2];
        return draw("path", { class: `pointer ${CHANNELS[i]}`, d: `M${px} ${py}l-5 -9h10z` });
    });
}

function picture(width, height, { curve, cube, frame, pointer, cross }) {
    const area = plot(width, height);
    return draw("svg", { width, height, viewBox: `0 0 ${width} ${height}`, role: "img", "aria-label": words(curve) },
        grid(area), ruler(area, curve, cube), lines(area, curve),
        mark(area, curve.floor?.stop, "floor", EDGE.top + 10), mark(area, curve.clip?.stop, "clip", area.bottom - 6),
        pixel(area, pointer ?? cross, frame, curve));
}

const percent = (value) => plain(100 * value, 1);

function words({ grey, clip, floor }) {
    const out = grey.out.map(percent).join(", ");
    const nits = Number.isFinite(grey.nits) ? `, ${plain(grey.nits, 1)} nits` : "";
    const ends = [clip && `clips ${signed(clip.stop, 1)} stops from it`, floor && `floor at ${signed(floor.stop, 1)} stops`];
    const parts = [`Mid-grey, ${percent(grey.signal)} % of the camera signal, becomes ${out} % of the display signal${nits}`, ...ends];
    return `${parts.filter(Boolean).join("; ")}.`;
}

let size = { width: 0, height: 0 };

drawn((state) => {
    say(find("curve-fault"), state.errors.curve ?? "");
    if (!state.curve || !size.width) return;
    find("curve").replaceChildren(picture(size.width, size.height, state));
    say(find("curve-says"), words(state.curve));
});

export function begin() {
    new ResizeObserver(([entry]) => {
        const width = Math.floor(entry.contentRect.width);
        const height = Math.round(clamp(find("figures").clientHeight - 66, 96, 0.4 * width));
        if (width === size.width && height === size.height) return;
        size = { width, height };
        change({});
    }).observe(find("curve"));
}
