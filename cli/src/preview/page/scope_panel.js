// Which scopes stand beside the picture, how they are drawn, and their pictures as files.

import { choices, find, make, plain, say } from "./dom.js";
import { lay } from "./layout.js";
import * as plots from "./scope_plots.js";
import { BY_PROCESSOR, COLOURS, text } from "./scope_draw.js";
import { change, drawn, state } from "./state.js";
import { camera, display } from "./work.js";

// `kind`: what is counted for it.
const SCOPES = [
    { name: "stops", title: () => `Stops from mid-grey${state.view.ei === null ? "" : `, EI ${state.view.ei}`}`, short: "Stops", kind: "stops", plot: plots.stops, words: plots.stopsWords },
    { name: "display", title: ({ unit }) => `Display, ${unit === "nits" ? "nits of a grey" : "% of the signal"}`, short: "Display", kind: "display", plot: plots.display, words: plots.displayWords },
    { name: "histogram", title: () => "Histogram of stops", short: "Histogram", kind: "stops", plot: plots.histogram, words: plots.histogramWords },
    { name: "chromaticity", title: () => "Chromaticity u\u2032 v\u2032", short: "u\u2032 v\u2032", kind: "chroma", plot: plots.chromaticity, words: plots.chromaticityWords },
];
const CHANNELS = [{ value: "over", label: "Over each other" }, { value: "side", label: "Side by side" }];
const UNITS = [{ value: "percent", label: "% of the signal" }, { value: "nits", label: "Nits" }];
// A picture of a scope as a file, in pixels.
const FILE = { width: 1280, square: 1000, height: 720, size: 20, under: 96 };

export const chosen = ({ scopes }) => SCOPES.filter(({ name }) => scopes[name]);

export const kindsOf = (layout) => [...new Set(chosen(layout).map((s) => s.kind))];

const layScopes = (values) => lay({ scopes: { ...state.layout.scopes, ...values } });

// ------------------------------------------------------------------------------------------------------ drawing

// Shares of pixels beyond what the camera has, of red, green and blue: of all pixels of the frame as recorded.
let shares = { of: [], found: null };

function sharesOf({ frame, scales }) {
    if (shares.of[0] === frame && shares.of[1] === scales) return shares.found;
    const [clip, floor] = [scales.clip, scales.floor].map((end) => Math.round(end.signal * (scales.camera_codes - 1)));
    const [over, under] = [[0, 0, 0], [0, 0, 0]];
    const { signal, channels } = frame;
    for (let i = 0; i < signal.length; i += channels) {
        for (let c = 0; c < 3; c += 1) {
            if (signal[i + c] >= clip) over[c] += 1;
            else if (signal[i + c] < floor) under[c] += 1;
        }
    }
    const pixels = signal.length / channels;
    shares = { of: [frame, scales], found: { over: over.map((n) => n / pixels), under: under.map((n) => n / pixels) } };
    return shares.found;
}

function options(state) {
    const { scales, layout, counted } = state;
    return { scales, isSide: layout.scopes.channels === "side", unit: layout.scopes.unit, pixels: counted.pixels };
}

const canvasOf = (name) => document.querySelector(`[data-scope=${name}] canvas`);

function plotOf(canvas) {
    const [width, height] = [canvas.clientWidth, canvas.clientHeight].map((v) => Math.round(v * devicePixelRatio));
    if (canvas.width !== width || canvas.height !== height) Object.assign(canvas, { width, height });
    return { context: canvas.getContext("2d", BY_PROCESSOR), width, height, size: parseFloat(getComputedStyle(canvas).fontSize) * devicePixelRatio };
}

const pixelsOf = (count) => count.toLocaleString("en-GB").replaceAll(",", "\u202f");

// What was counted, of what.
function countedWords({ counted, frame }) {
    const nudged = counted.nudge ? " Display and u\u2032 v\u2032 with the nudge, stops without." : "";
    if (counted.every === 1) return `All ${pixelsOf(counted.pixels)} pixels shown.${nudged}`;
    return `While it moves: one in ${counted.every ** 2} of ${pixelsOf(frame.width * frame.height)} pixels.${nudged}`;
}

let last = [];
// The canvases may have other sizes than when they were drawn: to ask for them at each change would cost a layout of the page.
let resized = true;

drawn((state) => {
    const { counted, scales, layout, errors, frame } = state;
    const some = chosen(layout);
    for (const { name, title } of SCOPES) {
        const figure = canvasOf(name)?.closest("figure");
        if (!figure) return;
        figure.hidden = !layout.scopes[name];
        say(figure.querySelector("h2"), title(layout.scopes));
        find(`scope-${name}`).checked = layout.scopes[name];
    }
    choices(find("scope-channels"), CHANNELS, layout.scopes.channels);
    choices(find("scope-unit"), UNITS, layout.scopes.unit);
    say(find("scopes-fault"), errors.scopes ?? "");
    if (!counted || !scales || counted.frame !== frame?.id || layout.side !== "open") return;
    const canvases = some.map(({ name }) => canvasOf(name));
    const now = [counted, scales, layout.scopes, devicePixelRatio];
    if (!resized && now.every((v, i) => v === last[i])) return;
    [last, resized] = [now, false];
    for (const [i, { kind, plot, words }] of some.entries()) {
        if (!counted.kinds[kind]) continue;
        plot(plotOf(canvases[i]), counted.kinds, options(state));
        canvases[i].setAttribute("aria-label", words(counted.kinds, options(state)));
    }
    say(find("scope-shares"), layout.scopes.histogram ? `${plots.sharesWords(sharesOf(state))}.` : "");
    say(find("scopes-say"), some.length ? countedWords(state) : "");
});

// -------------------------------------------------------------------------------------------------------- files

// What a picture is of stands in it: it leaves the page.
function captions(state) {
    const { show, pick, look, counted, layout, view } = state;
    const named = show.frames.find((f) => String(f.id) === pick.frame);
    // A live picture has no size before it comes.
    const { width, height } = named?.width ? named : state.frame;
    const version = look.unsaved ? `after revision ${look.revision}, not saved` : `revision ${look.revision}`;
    const nudged = counted.nudge ? `, nudged by ${plain(counted.nudge)} stops` : "";
    return [
        `${show.title}: ${named?.name ?? ""}, ${width} \u00d7 ${height}; ${pixelsOf(counted.pixels)} pixels counted`,
        `${camera()?.label || pick.camera}${view.ei == null ? "" : `, EI ${view.ei}`}; ${look.title}, ${version}${pick.shot ? `, shot ${pick.shot}` : ""}${nudged}; ${display()?.label || pick.display}`,
        `Red, green and blue ${layout.scopes.channels === "side" ? "side by side" : "over each other"}. ${plots.sharesWords(sharesOf(state))}`,
    ];
}

// The picture of a scope, as it would be saved.
export function pictureOf(name, state) {
    const { plot, title, kind } = SCOPES.find((s) => s.name === name);
    const width = kind === "chroma" ? FILE.square : FILE.width;
    const canvas = new OffscreenCanvas(width, FILE.height + FILE.under);
    const context = canvas.getContext("2d");
    context.fillStyle = COLOURS.ground;
    context.fillRect(0, 0, width, FILE.height + FILE.under);
    const of = { context, width, height: FILE.height, size: FILE.size };
    plot(of, state.counted.kinds, options(state));
    const [first, ...others] = captions(state);
    const lines = [`${title(state.layout.scopes)}. ${first}`, ...(kind === "chroma" ? others.slice(0, 1) : others)];
    for (const [i, words] of lines.entries()) text({ ...of, size: 15 }, words, 16, FILE.height + 18 + 24 * i);
    return canvas;
}

async function save(name) {
    const blob = await pictureOf(name, state).convertToBlob({ type: "image/png" });
    const link = make("a", { href: URL.createObjectURL(blob), download: `${state.pick.look}_${state.pick.camera}_${state.pick.display}_${name}.png` });
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 10000);
}

// ------------------------------------------------------------------------------------------------------- the panel

function figure({ name, short }) {
    const button = make("button", { type: "button", class: "small", "aria-label": `Save as PNG: ${short}`, onclick: () => state.counted && save(name) }, "PNG");
    return make("figure", { class: "scope", "data-scope": name, hidden: true },
        make("figcaption", {}, make("h2", {}), button),
        make("canvas", { role: "img", "aria-label": short }),
        name === "histogram" ? make("p", { id: "scope-shares", class: "says" }) : null);
}

const tick = (name, label) => make("label", { class: "tick" },
    make("input", { type: "checkbox", id: `scope-${name}`, onchange: (event) => layScopes({ [name]: event.target.checked }) }), label);

const list = (id, label, key) => make("label", {}, label, make("select", { id, onchange: (event) => layScopes({ [key]: event.target.value }) }));

export function begin() {
    find("scopes").replaceChildren(
        make("details", { id: "scopes-choose" }, make("summary", {}, "Scopes"),
            make("div", { class: "ticks" }, SCOPES.map(({ name, short }) => tick(name, short)), tick("pins", "Pins")),
            make("div", { class: "picks" }, list("scope-channels", "Channels", "channels"), list("scope-unit", "Display in", "unit"))),
        ...SCOPES.map(figure),
        make("p", { id: "scopes-say", class: "says" }),
        make("p", { id: "scopes-fault", class: "fault", role: "alert", hidden: true }),
    );
    const sizes = new ResizeObserver(() => {
        resized = true;
        change({});
    });
    for (const node of [find("scopes"), ...find("scopes").querySelectorAll("canvas")]) sizes.observe(node);
}
