// The page's one state. A change names its part; every drawing function then runs once, at the next frame.

export const state = {
    // What the server says of the show: looks, cameras, displays, frames, kinds of steps.
    show: null,
    // What is picked; kept in the address, so that a reload shows the same.
    pick: { look: null, camera: null, display: null, frame: null, shot: null },
    // How it is shown.
    view: {
        mode: "divide",         // look, divide, compare, grid
        other: "signal",        // what stands left of the divide: signal, LOOK@AT, or shot:NAME@AT
        own: true,              // another shot there is on its own frame, where it has one
        divide: 0.5,
        held: false,            // the other side alone, while a key is held
        overlay: "none",        // none, or a kind of exposure cube
        basis: "luminance",     // what an overlay reads exposure from: luminance, highest
        window: [-1, 1],        // of an overlay that has one: stops from mid-grey
        ei: null,
        nudge: 0,               // stops; of this session's view, never of the look
        screen: "srgb",         // srgb, or none: the display's own code values
        points: 33,
        reading: null,          // what the frame's file is taken for; null: as the server takes it
    },
    // How the page is laid out, of this user; `layout.js` says what is kept.
    layout: { surround: "dim", page: "dark", side: "open", controls: "low", letters: true, tab: "steps", zoom: 0, alone: false,
        scopes: { stops: true, display: true, chromaticity: false, histogram: false, pins: false, channels: "over", unit: "percent" } },
    // Tiles: what they differ in (displays, frames, versions), and what each has beside the first, which is as picked; a cross for
    // each frame that is not picked.
    grid: { of: "displays", displays: null, frames: null, crosses: {} },
    over: null,                 // the tile under the pointer, and the pixel of its frame: { at, frame, curve, asked, words }
    // The look's document as the server holds it, and what was worked out from it.
    look: null,
    past: null,                 // what was done to it, in words
    // The shots of the show, and the one that is corrected, with its versions; what a helper or a save did, in words.
    shots: null,
    shot: null,
    helped: null,
    amount: null,               // the exposure and the white of the shot's correction: { stops, kelvin, tint, of }
    cubes: null,                // cubes of older looks or corrections: { out, old }
    order: null,                // where the corrections come, and to which shots it matters
    cube: null,                 // { points, nodes, millis, says }
    other: null,                // the same of the other side
    overlay: null,              // the same of the exposure cube, with its key
    curve: null,
    scales: null,               // what the scopes measure by, of camera, display and EI
    codes: null,                // the look's cube to the display's own codes, `of` the cube in sight
    counted: null,              // what the scopes counted: { every, pixels, kinds }
    worst: null,
    compare: null,
    // The picture: { id, width, height, channels, signal } of 16-bit RGB or RGBA.
    frame: null,
    live: null,                 // what is told of a live picture
    // A pixel of the frame for each: under the pointer, and under the cross.
    pointer: null,
    cross: null,
    pins: [],                   // of the frame: { x, y, width, height }
    pinned: [],                 // what was read of them
    dragged: null,              // a rectangle that is being drawn
    reading: null,              // the probe of one of them
    // What went wrong, each where it belongs: one line.
    errors: {},
    // What the page must ask or tell, above everything: { id, words, list, choices }.
    bars: [],
    link: "waiting",            // waiting, good, lost
    dragging: false,            // a slider is being dragged
    adding: null,               // the name of a file that is being read
    saved: null,                // what the last save said
    asksNote: false,            // a save waits for what it is for
};

// What the live picture is called among the frames.
export const LIVE = "live";

const drawings = [];
// What waits to be drawn: "frames", what shows every frame of a live picture; or "all".
let queued = null;

// A function of the state that brings its part of the page up to date; of a live picture at every frame, where it shows each.
export function drawn(drawing, { each = false } = {}) {
    drawings.push({ drawing, each });
}

function drawQueued() {
    const all = queued === "all";
    queued = null;
    for (const { drawing, each } of drawings) if (all || each) drawing(state);
}

function queue(what) {
    if (queued === null) {
        // A hidden page draws no frames, and must still be right when it is seen again.
        if (document.hidden) setTimeout(drawQueued, 0);
        else requestAnimationFrame(drawQueued);
    }
    if (queued !== "all") queued = what;
}

// Takes `values` into the state, or into one `part` of it.
export function change(values, part) {
    Object.assign(part ? state[part] : state, values);
    queue("all");
}

// The next frame of the live picture that is shown already, of the same size.
export function follow(frame) {
    state.frame = frame;
    queue("frames");
}

// One line where it belongs, or none.
export function fault(place, words) {
    if (state.errors[place] === words || (!words && !state.errors[place])) return;
    const { [place]: _, ...others } = state.errors;
    change({ errors: words ? { ...others, [place]: words } : others });
}

export function raise(bar) {
    change({ bars: [...state.bars.filter((b) => b.id !== bar.id), bar] });
}

export function lower(id) {
    if (state.bars.some((b) => b.id === id)) change({ bars: state.bars.filter((b) => b.id !== id) });
}

const KEPT = ["look", "camera", "display", "frame", "shot"];
const KNOWN = { mode: ["look", "divide", "compare", "grid"], overlay: ["none", "ladder", "key", "clip", "range"], basis: ["luminance", "highest"], screen: ["srgb", "none"], points: [17, 33, 65] };
const KEPT_OF_VIEW = ["mode", "other", "overlay", "basis", "ei", "screen", "points"];

// The picks in the address, read at the start.
export function fromAddress() {
    const kept = new URLSearchParams(location.hash.slice(1));
    const of = (names) => Object.fromEntries(names.filter((n) => kept.has(n)).map((n) => [n, kept.get(n)]));
    const view = of(KEPT_OF_VIEW);
    for (const name of ["ei", "points"]) if (name in view) view[name] = Number(view[name]) || state.view[name];
    // A link from elsewhere may say anything.
    for (const [name, known] of Object.entries(KNOWN)) if (name in view && !known.includes(view[name])) delete view[name];
    return { pick: of(KEPT), view };
}

drawn(({ pick, view }) => {
    const kept = new URLSearchParams();
    for (const name of KEPT) if (pick[name]) kept.set(name, pick[name]);
    for (const name of KEPT_OF_VIEW) if (view[name]) kept.set(name, view[name]);
    const hash = `#${kept}`;
    if (location.hash !== hash) history.replaceState(null, "", hash);
});
