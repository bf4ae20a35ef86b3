// What stands in the tiles, and what is asked of the server for each: its frame, its table, and what is read at its cross.
//
// The first tile is the picture as it is picked. Each further one differs from it in one thing: the display, the frame with its
// camera and shot, or the version of the look.

import { newest, bytes, get, post } from "./server.js";
import { Curve, signalAt } from "./signal.js";
import { change, drawn, fault, state } from "./state.js";
import { askCube, askFrame, askOverlay, eiOf } from "./work.js";

// Tiles at once, the first among them; of versions, those that the server holds come beside it.
export const MOST = { displays: 4, frames: 4 };

export const isGrid = ({ view }) => view.mode === "grid";

// The tiles as they should be, by what is chosen.
export function specs({ grid, pick, look, show }) {
    if (!show || !look || !pick.frame) return [];
    const first = { ...pick, at: "now" };
    const further = {
        displays: () => (grid.displays ?? []).map((display) => ({ display })),
        frames: () => grid.frames ?? [],
        versions: () => (look.held ?? []).map(({ id, changes }) => ({ at: `held ${id}`, id, changes })),
    }[grid.of]();
    return [first, ...further.map((other) => ({ ...first, ...other, look: other.look ?? first.look }))];
}

// ------------------------------------------------------------------------------------------------------ asking

// What was asked last, by what it is of: frames, tables, curves and readings of the tiles that are there.
let kept = new Map();

// The same key: the same answer, as long as what it rests on is the same.
const keyOf = (kind, values, rests) => ({ name: JSON.stringify([kind, values]), rests });

const same = (a, b) => a.length === b.length && a.every((v, i) => v === b[i]);

// What there is of it by now, and whether it is of the newest state.
function have({ name, rests }) {
    const entry = kept.get(name);
    return { value: entry?.value ?? null, isFresh: Boolean(entry && same(entry.rests, rests)) };
}

async function need(key, used, ask) {
    used.add(key.name);
    if (!have(key).isFresh) kept.set(key.name, { rests: key.rests, value: await ask() });
    return kept.get(key.name).value;
}

const isPicked = (spec) => ["look", "camera", "display", "shot", "at"].every((name) => spec[name] === { ...state.pick, at: "now" }[name]);

function tableOf(spec) {
    const { view, show, cube, shots, overlay } = state;
    const { look, camera, display, at, shot } = spec;
    if (view.overlay !== "none") {
        const asked = { camera, ei: eiOf(camera), kind: view.overlay };
        const key = keyOf("overlay", asked, [show, overlay]);
        return { key, there: camera === state.pick.camera ? overlay : have(key).value, ask: () => askOverlay(asked) };
    }
    const asked = { look, camera, display, at, shot, screen: view.screen, points: view.points };
    // The picture's own cube is made anew with each change: then those of the look as it is now are, too.
    const key = keyOf("table", asked, at === "now" ? [cube, shot === state.pick.shot ? null : shots] : [show]);
    return { key, there: isPicked(spec) ? cube : have(key).value, ask: () => askCube({ ...asked, within: state.dragging ? QUICK : null }) };
}

// Milliseconds that a tile's cube may take while something is dragged.
const QUICK = 10;

function frameOf({ frame, camera }) {
    const asked = { frame, camera, as: frame === state.pick.frame ? state.view.reading : null };
    const key = keyOf("frame", asked, [state.show.frames.find((f) => String(f.id) === frame)?.name]);
    // A live picture is the same signal for every camera.
    const isPicture = frame === state.pick.frame && (camera === state.pick.camera || frame === "live");
    return { key, there: isPicture ? state.frame : have(key).value, ask: () => askFrame(asked) };
}

function curveOf({ look, camera, display }) {
    const key = keyOf("curve", { camera }, [state.show]);
    const ask = async () => new Curve((await get("curve", { look, camera, display, ei: eiOf(camera) })).stops);
    return { key, there: camera === state.pick.camera ? state.curve?.camera ?? null : have(key).value, ask };
}

// The pixel of a frame that is read: of the picked one, where the page's cross is.
export function crossOf({ frame }, pixels) {
    if (frame === state.pick.frame) return state.cross;
    return state.grid.crosses[frame] ?? { x: pixels.width >> 1, y: pixels.height >> 1 };
}

// The signal of a pixel as it enters the tile's table.
export const signalOf = ({ frame, curve, at }) => {
    const recorded = signalAt(frame, at);
    const { nudge } = state.view;
    return nudge && curve ? recorded.map((v) => curve.nudged(v, nudge)) : recorded;
};

// A tile with all that there is of it by now.
export function tileOf(spec) {
    const [frame, cube, curve] = [frameOf(spec).there, tableOf(spec).there, curveOf(spec).there];
    return { spec, frame, cube, curve, cross: frame && crossOf(spec, frame) };
}

function readingKey({ spec, frame, cube, curve, cross }) {
    const { look, camera, display, at, shot } = spec;
    return keyOf("reading", { look, camera, display, at, shot, frame: spec.frame, cross }, [frame, cube, curve, state.view.nudge]);
}

// Of the newest state, or nothing.
export function readingOf(tile) {
    const found = tile.frame && tile.cube ? have(readingKey(tile)) : null;
    return found?.isFresh ? found.value : null;
}

async function ask(spec, used) {
    for (const { key, there, ask } of [frameOf(spec), curveOf(spec), tableOf(spec)]) {
        const isOfPicture = there !== null && there !== have(key).value;
        if (!isOfPicture) await need(key, used, ask);
        change({});
    }
}

async function read(spec, used) {
    const tile = tileOf(spec);
    if (!tile.frame || !tile.cube) return;
    const { look, camera, display, at, shot } = spec;
    const places = [{ signal: signalOf({ ...tile, at: tile.cross }) }];
    await need(readingKey(tile), used, async () => (await post("places", { look, camera, display, at, shot, places })).readings[0]);
    change({});
}

const refresh = newest(async () => {
    const used = new Set();
    const list = specs(state);
    const faults = new Set();
    // What one tile cannot have, the others have all the same.
    const each = async (work) => {
        for (const spec of list) await work(spec, used).catch((error) => faults.add(error.message));
    };
    await each(ask);
    if (!state.dragging) await each(read);
    fault("grid", [...faults].join("; "));
    // Of a tile that is gone nothing stays.
    kept = new Map([...kept].filter(([name]) => used.has(name)));
});

let last = [];

drawn((now) => {
    if (!isGrid(now)) {
        kept = new Map();
        last = [];
        return;
    }
    const { grid, pick, show, look, frame, cube, overlay, curve, cross, view, shots, dragging } = now;
    if (!frame || !cube || !curve) return;
    const rests = [grid, pick, show, look?.held?.map((h) => h.id).join(), frame, cube, overlay, curve, cross, view.nudge, view.overlay, view.ei, view.reading, shots, dragging];
    if (same(rests, last)) return;
    last = rests;
    refresh();
});
