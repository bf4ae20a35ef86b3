// The scopes beside the picture: what they need of the server, and when they are counted.
//
// While something moves, the processor counts as many pixels as there is time for; as soon as it rests, the graphics card counts all
// of them. A card that was quick enough at that does so while something moves as well.

import { Counts, ROWS, binsOfStops } from "./scope_counts.js";
import { chosen, kindsOf } from "./scope_panel.js";
import { sample } from "./scope_sample.js";
import { bytes, newest } from "./server.js";
import { change, drawn, fault, state } from "./state.js";
import { screenPicture } from "./stage.js";
import { askCube } from "./work.js";

// Milliseconds that counting may take while something moves, on the card: five times a second, with as much again for all the rest.
const MOVING = 90;
// And on the processor, which draws the page, too.
const QUICK = { most: 24, least: 8 };
// And at once while it rests, so that the page still answers.
const RESTING = 60;
// Milliseconds without a change until all pixels are counted.
const REST = 250;
// All pixels of a picture that rests are counted in so many turns at most.
const TURNS = 24;
// Pixels that are counted at least: fewer would not show what is in the picture.
const LEAST = 30000;

// ------------------------------------------------------------------------------------------------ what is needed

const isSeen = ({ layout }) => !document.hidden && layout.side === "open" && !layout.alone && chosen(layout).length > 0;

const guarded = (work) => newest(async (...values) => {
    try {
        await work(...values);
        fault("scopes", null);
    } catch (error) {
        fault("scopes", error.message);
    }
});

const readScales = guarded(async () => {
    const got = await bytes("scales", { camera: state.pick.camera, display: state.pick.display, ei: state.view.ei });
    const says = JSON.parse(got.headers.get("x-scales"));
    const all = new Float32Array(got.bytes);
    let from = 0;
    const table = (length) => all.slice(from, (from += length));
    const [stops, cameraLight] = [table(says.camera_codes), table(says.camera_codes)];
    const [light, nits] = [table(says.display_codes), table(says.display_codes)];
    change({ scales: { ...says, stops, cameraLight, light, nits, bins: binsOfStops(stops) } });
});

// The cube of the picture as the display's own codes: the same one where the screen is given those.
const readCodes = guarded(async (cube) => {
    const { asked } = cube;
    const codes = asked.screen === "none" ? cube : await askCube({ ...asked, screen: "none", points: cube.points, within: null });
    change({ codes: { ...codes, of: cube } });
});

const asked = { scales: null, cube: null };

drawn((state) => {
    const { pick, view, cube } = state;
    if (!pick.camera || !pick.display) return;
    const scales = JSON.stringify([pick.camera, pick.display, view.ei]);
    if (asked.scales !== scales) readScales();
    asked.scales = scales;
    // A second cube for each change is made only where it is seen.
    if (!cube || asked.cube === cube || !isSeen(state)) return;
    asked.cube = cube;
    readCodes(cube);
});

// ------------------------------------------------------------------------------------------------------ counting

let counts = null;
// What the last count was of.
let last = [];
let work = null;
let resting = null;
// Milliseconds that the card took for all pixels; nothing is known of it before it has.
let whole = Infinity;
// Which pixels the processor counts while something moves, and the rows that the card counts at once while it rests: as there was
// time for last.
let spread = 4;
let slice = 64;

function ready(picture) {
    if (counts?.program !== picture.program) {
        counts = new Counts(picture.gl);
        // What was begun is in a context that went away.
        [work, whole] = [null, Infinity];
        counts.program = picture.program;
        if (!counts.able) fault("scopes", "The scopes need a graphics card that adds in floats of 32 bits, which this browser does not offer.");
    }
    return counts.able;
}

const nudgeOf = ({ curve, view }) => (curve === null ? 0 : view.nudge);

function start() {
    const { frame, scales, codes, layout } = state;
    counts.take(scales, codes);
    const nudge = nudgeOf(state);
    work = { ...counts.begin(frame, kindsOf(layout), { nudged: nudge !== 0, every: 1 }), frame: frame.id, nudge, took: 0 };
}

// Counts so many rows, and says how long it took, once the card has done it.
function go(rows) {
    const before = performance.now();
    counts.rows(work, rows);
    counts.wait(work);
    const took = performance.now() - before;
    work.took += took;
    return took;
}

function show({ frame, nudge, every, across, down, columns, kinds }, bins) {
    const of = (kind) => ({ bins: bins(kind), columns: kind === "chroma" ? ROWS.chroma : columns, rows: ROWS[kind], high: (down * across) / columns });
    change({ counted: { frame, nudge, every, pixels: across * down, kinds: Object.fromEntries(kinds.map((kind) => [kind, of(kind)])) } });
}

function finish() {
    whole = work.took;
    show(work, (kind) => counts.read(kind));
    work = null;
}

function rest() {
    resting = null;
    if (!isSeen(state)) return stop();
    if (!work) start();
    const took = go(slice);
    slice = Math.max(Math.round(took > RESTING ? slice / 2 : took < RESTING / 3 ? slice * 2 : slice), Math.ceil(work.down / TURNS));
    if (work.done === work.down) finish();
    else resting = setTimeout(rest, 0);
}

const widest = ({ width, height }) => Math.max(Math.floor(Math.sqrt((width * height) / LEAST)), 1);

// The scopes went out of sight, or the picture did: what was counted of it so far is for nobody, and the next look at them begins anew.
function stop() {
    clearTimeout(resting);
    [work, resting, last] = [null, null, []];
}

// All pixels, where the card has shown that it has the time: it did so at once.
function byCard() {
    start();
    go(work.down);
    finish();
}

// As many pixels as there is time for, spread over the picture: the card is asked for all of them once it rests.
function byProcessor() {
    const { frame, scales, codes, layout } = state;
    const before = performance.now();
    const kinds = kindsOf(layout);
    const nudge = nudgeOf(state);
    const every = Math.max(Math.min(spread, widest(frame)), 2);
    const { bins, ...size } = sample(frame, kinds, scales, codes, { nudge: nudge === 0 ? null : tableOf(nudge), every });
    show({ frame: frame.id, nudge, every, kinds, ...size }, (kind) => bins[kind]);
    const took = performance.now() - before;
    spread = took > QUICK.most ? every + 1 : took < QUICK.least ? Math.max(every - 1, 2) : every;
    resting = setTimeout(rest, REST);
}

let table = { of: [], values: null };

// The table of a nudge that the picture is drawn with.
function tableOf(nudge) {
    const { camera } = state.curve;
    if (table.of[0] !== camera || table.of[1] !== nudge) table = { of: [camera, nudge], values: camera.table(nudge) };
    return table.values;
}

function moving() {
    clearTimeout(resting);
    [work, resting] = [null, null];
    if (whole < MOVING) byCard();
    else byProcessor();
}

function count() {
    const { frame, cube, codes, scales, layout } = state;
    const picture = screenPicture();
    if (!picture?.works || !frame || !codes || !scales || !isSeen(state) || !ready(picture)) return stop();
    // Of one moment: codes that are of the cube in sight.
    if (codes.of !== cube) return;
    const now = [frame, codes, scales, nudgeOf(state), picture.program, kindsOf(layout).join()];
    if (now.every((v, i) => v === last[i])) return;
    last = now;
    moving();
}

drawn(count);
