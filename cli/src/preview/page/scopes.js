// The scopes beside the picture: what they need of the server, and when they are counted.
//
// While something moves, as many pixels are counted as there is time for; as soon as it rests, all of them.

import { Counts, ROWS, binsOfStops } from "./scope_counts.js";
import { chosen, kindsOf } from "./scope_panel.js";
import { bytes, newest } from "./server.js";
import { LIVE, change, drawn, fault, state } from "./state.js";
import { screenPicture } from "./stage.js";
import { askCube } from "./work.js";

// Milliseconds that counting may take while something moves: five times a second, with as much again for all the rest.
const MOVING = 90;
// And at once while it rests, so that the page still answers.
const RESTING = 60;
// A live picture comes first: a count of one of its frames takes no longer, and so many times as long is left to the next frames.
const LIVE_MOST = 25;
const LIVE_LEAVE = 4;
// So many times as long as a count took is left to all the rest of the page before the next one: slow cards stay at hand.
const LEAVE = 4;
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
// Which pixels are counted while something moves, and the rows that are counted at once while it rests: as there was time for last.
let spread = 4;
let slice = 64;
// When the next count may begin while something moves, and what waits for it.
let free = 0;
let waiting = null;

function ready(picture) {
    if (counts?.program !== picture.program) {
        counts = new Counts(picture.gl);
        // What was begun is in a context that went away.
        work = null;
        counts.program = picture.program;
        if (!counts.able) fault("scopes", "The scopes need a graphics card that adds in floats of 32 bits, which this browser does not offer.");
    }
    return counts.able;
}

function start(every) {
    const { frame, view, curve, scales, codes, layout } = state;
    counts.take(scales, codes);
    const nudge = curve === null ? 0 : view.nudge;
    work = { ...counts.begin(frame, kindsOf(layout), { nudged: nudge !== 0, every }), frame: frame.id, nudge };
}

// Counts so many rows, and says how long it took, once the card has done it.
function go(rows) {
    const before = performance.now();
    counts.rows(work, rows);
    counts.wait(work);
    return performance.now() - before;
}

function finish() {
    const { frame, nudge, every, across, down, columns, kinds } = work;
    const of = (kind) => ({ bins: counts.read(kind), columns: kind === "chroma" ? ROWS.chroma : columns, rows: ROWS[kind], high: (down * across) / columns });
    const found = Object.fromEntries(kinds.map((kind) => [kind, of(kind)]));
    change({ counted: { frame, nudge, every, pixels: across * down, kinds: found } });
    work = null;
}

function rest() {
    resting = null;
    if (!isSeen(state)) return stop();
    if (!work) start(1);
    const took = go(slice);
    slice = Math.max(Math.round(took > RESTING ? slice / 2 : took < RESTING / 3 ? slice * 2 : slice), Math.ceil(work.down / TURNS));
    if (work.done === work.down) finish();
    else resting = setTimeout(rest, 0);
}

// A live picture that goes on does not rest.
const goesOn = ({ frame, live }) => frame.id === LIVE && !live?.frozen;

const widest = ({ width, height }) => Math.max(Math.floor(Math.sqrt((width * height) / LEAST)), 1);

// The scopes went out of sight, or the picture did: what was counted of it so far is for nobody, and the next look at them begins anew.
function stop() {
    clearTimeout(resting);
    [work, resting, last] = [null, null, []];
}

// As many pixels as there is time for, spread over the picture.
function moving() {
    clearTimeout(resting);
    resting = null;
    const isLive = goesOn(state);
    const most = isLive ? LIVE_MOST : MOVING;
    start(Math.min(spread, widest(state.frame)));
    const took = go(work.down);
    free = performance.now() + (isLive ? LIVE_LEAVE * took : took > most ? LEAVE * took : 0);
    spread = took > most ? work.every + Math.ceil(work.every / 4) : took < most / 3 ? Math.max(work.every - 1, 1) : work.every;
    const isWhole = work.every === 1;
    finish();
    if (!isWhole && !isLive) resting = setTimeout(rest, REST);
}

function count() {
    const { frame, cube, codes, scales, view, curve, layout } = state;
    const picture = screenPicture();
    if (!picture?.works || !frame || !codes || !scales || !isSeen(state) || !ready(picture)) return stop();
    // Of one moment: codes that are of the cube in sight.
    if (codes.of !== cube) return;
    const now = [frame, codes, scales, curve === null ? 0 : view.nudge, picture.program, kindsOf(layout).join(), goesOn(state)];
    if (now.every((v, i) => v === last[i])) return;
    const wait = free - performance.now();
    if (wait > 0) {
        clearTimeout(resting);
        resting = null;
        last = [];
        waiting ??= setTimeout(() => {
            waiting = null;
            count();
        }, wait);
        return;
    }
    last = now;
    moving();
}

drawn(count, { each: true });
