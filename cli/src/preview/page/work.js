// What is asked of the server, and when: each thing the newest only, one request in flight.

import { clamp, find, same } from "./dom.js";
import { Lost, bytes, get, newest, post, send } from "./server.js";
import { Curve, signalAt } from "./signal.js";
import { LIVE, change, fault, follow, lower, state } from "./state.js";

// Runs `work`; a refusal becomes one line at `place`. What no server answers is told by a bar.
async function guarded(place, work) {
    try {
        await work();
        fault(place, null);
    } catch (error) {
        if (!(error instanceof Lost)) fault(place, error.message);
    }
}

const quietly = (place, work) => newest((...values) => guarded(place, () => work(...values)));

const picked = () => ({ look: state.pick.look, camera: state.pick.camera, display: state.pick.display, at: "now", shot: state.pick.shot });

export const camera = () => state.show?.cameras.find((c) => c.name === state.pick.camera);
export const display = () => state.show?.displays.find((d) => d.name === state.pick.display);

const SHOT = "shot:";

// LOOK@AT or shot:NAME@AT of what stands left of the divide, as { look, at, shot, shot_at }.
export function side(other) {
    if (other.startsWith(SHOT)) {
        const mark = other.lastIndexOf("@");
        return { look: state.pick.look, at: "now", shot: other.slice(SHOT.length, mark), shot_at: other.slice(mark + 1) };
    }
    const mark = other.indexOf("@");
    return { look: other.slice(0, mark), at: other.slice(mark + 1), shot: null };
}

// Headers are ASCII: what is not stands in them as in JSON.
const unescaped = (text) => text.replace(/\\u([0-9a-f]{4})/g, (_, code) => String.fromCharCode(parseInt(code, 16)));

// Milliseconds that a cube may take while something is dragged; a smaller one stands in if it would take longer.
const QUICK = 15;

export async function askCube(values) {
    const { screen, points } = state.view;
    const asked = { ...picked(), screen, points, ...values };
    const got = await bytes("cube", asked);
    return {
        asked,
        table: Number(got.headers.get("x-table")),
        points: Number(got.headers.get("x-points")),
        version: Number(got.headers.get("x-version")),
        nodes: new Float32Array(got.bytes),
        millis: Number(got.headers.get("x-millis")),
        says: unescaped(got.headers.get("x-preview") ?? ""),
    };
}

export const bakeLook = quietly("picture", async () => change({ cube: await askCube({ within: state.dragging ? QUICK : null }) }));

export const titleOf = (look) => state.show.looks.find((one) => one.name === look)?.title ?? look;

export const shotOf = (name) => state.shots?.shots.find((one) => one.name === name);

// The frame that the show has of a shot, by its number; null where it has none.
export async function frameOfShot(name) {
    if (!shotOf(name)?.frame) return null;
    const { id } = await post(`shots/${encodeURIComponent(name)}/frame`, null);
    return String(id);
}

let own = { of: null, frame: null };

// A shot on its own frame, as { frame, cube, camera }, by its own camera; of the frame that is in view itself, the words alone.
async function ownSide(wanted, cube) {
    const { camera: inView, frame: shown } = state.pick;
    const id = await frameOfShot(wanted.shot);
    if (id === null) return { ...cube, isOwn: false };
    if (id === shown) return { ...cube, isOwn: true };
    const camera = shotOf(wanted.shot).camera ?? inView;
    const of = JSON.stringify([id, camera]);
    if (own.of !== of) own = { of, frame: { ...(await askFrame({ frame: id, camera, as: null })), id } };
    const through = camera === inView ? cube : await askCube({ ...wanted, camera });
    return { ...cube, isOwn: true, frame: own.frame, own: { cube: through, camera } };
}

export const bakeOther = quietly("other", async () => {
    const { other, own: wantsOwn } = state.view;
    if (other === "signal") return change({ other: null });
    const wanted = side(other);
    const cube = await askCube(wanted);
    const isOther = wantsOwn && wanted.shot && wanted.shot !== state.pick.shot;
    try {
        change({ other: isOther ? await ownSide(wanted, cube) : cube });
    } catch (error) {
        // On the frame in view, and why.
        change({ other: cube });
        throw error;
    }
});

// An exposure cube: { camera, ei, kind }, read as the page has it.
export async function askOverlay(asked) {
    const { basis, window: [low, high] } = state.view;
    const ends = asked.kind === "range" ? { low, high } : {};
    const got = await bytes("exposure", { ...asked, basis, ...ends });
    const nodes = new Float32Array(got.bytes);
    const points = Number(got.headers.get("x-points")) || Math.round(Math.cbrt(nodes.length / 3));
    const says = unescaped(got.headers.get("x-preview") ?? "");
    const table = Number(got.headers.get("x-table"));
    return { kind: asked.kind, asked: { ...asked, basis }, table, points, nodes, says, key: JSON.parse(got.headers.get("x-key") ?? "[]") };
}

export const bakeOverlay = quietly("overlay", async () => {
    const { overlay, ei } = state.view;
    if (overlay === "none") return change({ overlay: null });
    return change({ overlay: await askOverlay({ camera: state.pick.camera, ei, kind: overlay }) });
});

export const readCurve = quietly("curve", async () => {
    const curve = await get("curve", { ...picked(), ei: state.view.ei });
    change({ curve: { ...curve, camera: new Curve(curve.stops) } });
});

// A finding stays in sight until there is a newer one, so it says what it is of.
export const readWorst = quietly("worst", async () => {
    // Of the look by itself.
    const of = { ...picked(), shot: null };
    const worst = await get("worst", of);
    const { name, saved_version: saved } = state.look ?? {};
    const isSaved = name === of.look && worst.version === saved;
    change({ worst: { ...worst, of, isSaved, when: new Date() } });
});

export const compareSides = quietly("compare", async () => {
    const { mode, other } = state.view;
    if (mode !== "compare" || other === "signal") return change({ compare: null });
    const { camera, display, look, shot } = picked();
    const a = side(other);
    const sides = { a: `${a.look}@${a.at}`, b: `${look}@now`, a_shot: a.shot, a_shot_at: a.shot_at, b_shot: shot };
    const got = await get("compare", { ...sides, camera, display });
    // The sides may have changed meanwhile; then the next answer is on its way.
    return change({ compare: got });
});

// A frame as the signal of a camera: { frame, camera, as }.
export async function askFrame({ frame: id, camera, as }) {
    const got = await bytes(`frames/${id}`, { camera, as });
    const [width, height] = ["x-width", "x-height"].map((name) => Number(got.headers.get(name)));
    return { id, width, height, channels: 4, says: unescaped(got.headers.get("x-says") ?? ""), signal: new Uint16Array(got.bytes) };
}

export const readFrame = quietly("frame", async () => {
    const id = state.pick.frame;
    // A live picture comes by itself.
    if (id === null || id === undefined || id === LIVE) return;
    takeFrame(await askFrame({ frame: id, camera: state.pick.camera, as: state.view.reading }));
    readPixel();
});

// A frame becomes the picture; what is pointed at stays where a frame of the same size follows.
export function takeFrame(frame) {
    const { width, height } = frame;
    const follows = state.frame?.id === frame.id && state.frame.width === width && state.frame.height === height;
    if (follows && frame.id === LIVE) return follow(frame);
    // In a frame of another size it stays at the same part of the picture.
    const scaled = (v, was, now) => clamp(Math.floor(((v + 0.5) * now) / was), 0, now - 1);
    const { width: before, height: high } = state.frame ?? frame;
    const within = (at) => at && { x: scaled(at.x, before, width), y: scaled(at.y, high, height) };
    const cross = within(state.cross) ?? { x: Math.round(width * 0.65), y: height >> 1 };
    change({ frame, pointer: follows ? state.pointer : null, cross });
}

// The pixel under the pointer, in the tile that it is over if there are tiles; else the one under the cross.
export const readPixel = quietly("reading", async () => {
    const { over } = state;
    const at = over?.at ?? state.pointer ?? state.cross;
    const frame = over?.frame ?? state.frame;
    if (!at || !frame) return;
    const recorded = signalAt(frame, at);
    const { nudge } = state.view;
    const curve = over ? over.curve : state.curve?.camera;
    const signal = curve && nudge ? recorded.map((v) => curve.nudged(v, nudge)) : recorded;
    const probe = await post("probe", { ...(over?.asked ?? picked()), signal });
    change({ reading: { at, pointed: Boolean(over ?? state.pointer), of: over?.words ?? null, signal, nudge, probe } });
});

// After a change of the look: the picture first, then what is drawn beside it.
export function lookChanged() {
    bakeLook();
    const { look, at, shot, shot_at: shotAt } = state.view.other === "signal" ? {} : side(state.view.other);
    if (look === state.pick.look && at === "now" && (!shot || shot === state.pick.shot || shotAt !== "now")) bakeOther();
    readCurve();
    readPixel();
    if (!state.dragging) settled();
}

// What takes longer waits until a drag has ended.
function settled() {
    compareSides();
    readWorst();
}

export function dragged(is) {
    if (Boolean(state.dragging) === is) return;
    change({ dragging: is });
    if (is) return;
    bakeLook();
    settled();
}

export function everything() {
    readFrame();
    bakeOther();
    bakeOverlay();
    lookChanged();
}

// What is missing of the picks becomes the server's own pick, and what does not exist any more goes.
export function settle(wanted, show) {
    const known = (list, name, otherwise) => (list.some((e) => String(e.name ?? e.id) === String(name)) ? name : otherwise);
    const frames = show.frames.map((f) => f.id);
    const of = known(show.frames.map((f) => ({ name: f.id })), wanted.frame, frames[0] ?? null);
    return {
        look: known(show.looks, wanted.look, show.pick.look),
        camera: known(show.cameras, wanted.camera, show.pick.camera),
        display: known(show.displays, wanted.display, show.pick.display),
        frame: of === null ? null : String(of),
        shot: known(state.shots?.shots ?? [], wanted.shot, show.pick.shot ?? null),
    };
}

// The exposure index that was chosen last for each camera that is not in view.
const lastEi = {};

// The exposure index of a camera: as it was chosen for this one, else that of its curve, else its first.
export function eiOf(name, show = state.show, chosen = name === state.pick.camera ? state.view.ei : lastEi[name]) {
    const { eis = [], base } = show.cameras.find((c) => c.name === name) ?? {};
    return [chosen, base].find((ei) => eis.includes(ei)) ?? eis[0] ?? null;
}

export function settleView(view, show, pick) {
    const { look, shot } = view.other === "signal" ? {} : side(view.other);
    const exists = view.other === "signal" || (shot ? state.shots?.shots.some((s) => s.name === shot) : show.looks.some((l) => l.name === look));
    // A shot stands beside itself as it is in its file.
    const named = shot ? `${SHOT}${shot}@${shot === pick.shot ? "saved" : "now"}` : view.other;
    return { ei: eiOf(pick.camera, show, view.ei), other: exists ? named : "signal" };
}

// Takes new picks, and asks anew for what they change.
export async function pick(values) {
    const before = state.pick;
    const now = { ...before, ...values };
    if (same(before, now)) return;
    lastEi[before.camera] = state.view.ei;
    change({ pick: now });
    change(settleView({ ...state.view, ei: lastEi[now.camera] ?? null }, state.show, now), "view");
    if (now.frame !== before.frame) change({ reading: null }, "view");
    if (now.look !== before.look) {
        // What was asked or told of the look before.
        for (const id of ["conflict", "outside", "overtaken", "left"]) lower(id);
        change({ saved: null });
        await readLook();
    }
    if (now.frame !== before.frame || now.camera !== before.camera) readFrame();
    if (now.camera !== before.camera) bakeOverlay();
    if (now.camera !== before.camera || now.display !== before.display || now.shot !== before.shot || now.frame !== before.frame) bakeOther();
    lookChanged();
}

export async function readLook() {
    await guarded("look", async () => change({ look: await get(`looks/${encodeURIComponent(state.pick.look)}`) }));
}

export async function readShots() {
    await guarded("shots", async () => change({ shots: await get("shots") }));
}

export async function readShow() {
    const show = await get("state");
    change({ show });
    return show;
}

const CLIP = /\.(mov|mp4|m4v|mxf|mkv|avi|webm)$/i;

export const isClip = (file) => CLIP.test(file.name);

// A file of the crew's own as a frame; of a clip, the one at `seconds`.
export async function addFrame(file, seconds) {
    await guarded("frame", async () => {
        fault("frame", null);
        change({ adding: file.name });
        try {
            const frame = await send("frames", { name: file.name, camera: state.pick.camera, at: isClip(file) ? seconds : null }, file);
            await readShow();
            await pick({ frame: String(frame.id) });
        } finally {
            change({ adding: null });
        }
    });
}
