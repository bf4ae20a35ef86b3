// The scopes beside the picture: what they need of the server, and when they are counted.
//
// While something moves, the processor counts as many pixels as there is time for; as soon as it rests, the graphics card counts all
// of them. A card that was quick enough at that does so while something moves as well; where it is slower than the processor, as one in
// software is, the processor does all of it.

import { Counts, ROWS, binsOfStops } from "./scope_counts.js";
import { chosen, kindsOf } from "./scope_panel.js";
import * as processor from "./scope_sample.js";
import { bytes, newest } from "./server.js";
import { LIVE, change, drawn, fault, state } from "./state.js";
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
// The card counts all pixels of a picture that rests in so many turns at most.
const TURNS = 24;
// Rows by which a card is tried, and milliseconds of them under which it is not judged.
const TRIAL = { rows: 8, least: 20 };
// Pixels that are counted at least: fewer would not show what is in the picture.
const LEAST = 30000;
// A live picture comes first: after a count of one of its frames, so many times as long is left to the next frames.
const LIVE_LEAVE = 4;

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
// Whether it was slower than the processor, of which the last count had so many pixels in a millisecond.
let isSlow = false;
let pace = 0;
// Which pixels the processor counts while something moves, and the rows that are counted at once while it rests: as there was time
// for last.
let spread = 4;
let slice = TRIAL.rows;
// When the next frame of a live picture may be counted.
let free = 0;

function ready(picture) {
    if (counts?.of !== picture.programs) {
        counts = new Counts(picture.gl);
        // What was begun is in a context that went away.
        [work, whole, isSlow, slice] = [null, Infinity, false, TRIAL.rows];
        counts.of = picture.programs;
        if (!counts.able) fault("scopes", "The scopes need a graphics card that adds in floats of 32 bits, which this browser does not offer.");
    }
    return counts.able;
}

const nudgeOf = ({ curve, view }) => (curve === null ? 0 : view.nudge);

function tableOf(nudge) {
    return nudge === 0 ? null : state.curve.camera.table(nudge);
}

function start() {
    const { frame, scales, codes, layout } = state;
    const [kinds, nudge] = [kindsOf(layout), nudgeOf(state)];
    const of = { frame: frame.id, number: frame.number, nudge, took: 0, byCard: !isSlow };
    if (isSlow) {
        work = { count: processor.begin(frame, kinds, scales, codes, { nudge: tableOf(nudge), every: 1 }), ...of };
        return;
    }
    // A frame that the server has coloured was not given to the card.
    screenPicture().frame(frame);
    counts.take(scales, codes);
    work = { count: counts.begin(frame, kinds, { nudged: nudge !== 0, every: 1 }), ...of };
}

// Counts so many rows, and says how long it took, once it is done.
function go(rows) {
    const before = performance.now();
    if (work.byCard) {
        counts.rows(work.count, rows);
        counts.wait(work.count);
    } else processor.rows(work.count, rows);
    const took = performance.now() - before;
    work.took += took;
    return took;
}

function show({ every, across, down, columns, kinds }, { frame, number, nudge }, bins) {
    const of = (kind) => ({ bins: bins(kind), columns: kind === "chroma" ? ROWS.chroma : columns, rows: ROWS[kind], high: (down * across) / columns });
    change({ counted: { frame, number, nudge, every, pixels: across * down, kinds: Object.fromEntries(kinds.map((kind) => [kind, of(kind)])) } });
}

function finish() {
    const { count, byCard, took } = work;
    if (byCard) whole = took;
    show(count, work, (kind) => (byCard ? counts.read(kind) : count.bins[kind]));
    work = null;
}

function rest() {
    resting = null;
    if (!isSeen(state)) return stop();
    if (!work) start();
    const { byCard, count } = work;
    const isFirst = count.done === 0;
    const rows = byCard && whole === Infinity && count.done <= TRIAL.rows ? TRIAL.rows : slice;
    const took = go(rows);
    // Not by its first rows, for which it gets ready.
    if (byCard && !isFirst && took > TRIAL.least && (rows * count.across) / took < pace) {
        [isSlow, work, slice] = [true, null, TRIAL.rows];
    } else if (count.done === count.down) {
        return finish();
    } else if (!isFirst || !byCard) {
        const next = Math.round(took > RESTING ? slice / 2 : took < RESTING / 3 ? slice * 2 : slice);
        slice = Math.max(next, byCard ? Math.ceil(count.down / TURNS) : 1);
    }
    resting = setTimeout(rest, 0);
}

// A live picture that goes on does not rest.
const goesOn = ({ frame, live }) => frame.id === LIVE && !live?.frozen;

const widest = ({ width, height }) => Math.max(Math.floor(Math.sqrt((width * height) / LEAST)), 1);

// The scopes went out of sight, or the picture did: what was counted of it so far is for nobody, and the next look at them begins anew.
function stop() {
    clearTimeout(resting);
    [work, resting, last] = [null, null, []];
}

// All pixels, where the card has shown that it has the time: it did so at once.
function byCard() {
    start();
    go(work.count.down);
    finish();
}

// As many pixels as there is time for, spread over the picture: all of them are counted once it rests.
function byProcessor() {
    const { frame, scales, codes, layout } = state;
    const before = performance.now();
    const nudge = nudgeOf(state);
    const every = Math.max(Math.min(spread, widest(frame)), 2);
    const count = processor.begin(frame, kindsOf(layout), scales, codes, { nudge: tableOf(nudge), every });
    processor.rows(count, count.down);
    show(count, { frame: frame.id, number: frame.number, nudge }, (kind) => count.bins[kind]);
    const took = performance.now() - before;
    pace = (count.across * count.down) / Math.max(took, 1);
    spread = took > QUICK.most ? every + 1 : took < QUICK.least ? Math.max(every - 1, 2) : every;
    if (goesOn(state)) free = performance.now() + LIVE_LEAVE * took;
    else resting = setTimeout(rest, REST);
}

function moving() {
    clearTimeout(resting);
    [work, resting] = [null, null];
    // A live picture does not rest, and comes first: what draws it is not the one that counts.
    if (!goesOn(state) && whole < MOVING && !isSlow) byCard();
    else byProcessor();
}

function count() {
    const { frame, cube, codes, scales, layout } = state;
    const picture = screenPicture();
    if (!picture?.works || !frame || !codes || !scales || !isSeen(state) || !ready(picture)) return stop();
    // Of one moment: codes that are of the cube in sight.
    if (codes.of !== cube) return;
    const now = [frame, codes, scales, nudgeOf(state), picture.programs, kindsOf(layout).join(), goesOn(state)];
    if (now.every((v, i) => v === last[i])) return;
    // The next frame comes by itself.
    if (goesOn(state) && performance.now() < free) return;
    last = now;
    moving();
}

drawn(count, { each: true });
