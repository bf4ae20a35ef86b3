// The picture in its surround: what is drawn, the divide, the cross, the pointer, the keys.

import { put, putAway } from "./coloured.js";
import * as compare from "./compare.js";
import { clamp, find, plain, same, say, signed } from "./dom.js";
import { edit } from "./edits.js";
import { Picture, layoutOf, paneAt } from "./picture.js";
import { SHOW } from "./shaders.js";
import { help } from "./shots.js";
import { change, drawn, fault, state } from "./state.js";
import { camera, display, readPixel, side, titleOf } from "./work.js";

// The surround, as the style sheet has it, between the panes of a comparison.
let surround = { name: null, colour: null };

export function mat() {
    const name = document.documentElement.dataset.surround;
    if (surround.name !== name) {
        const hex = getComputedStyle(document.documentElement).getPropertyValue("--mat").trim();
        surround = { name, colour: [1, 3, 5].map((at) => parseInt(hex.slice(at, at + 2), 16) / 255) };
    }
    return surround.colour;
}

const QUARTER = 0.25;
// As far as the curve is sampled.
const FAR = 8;

let picture = null;

// The picture that is drawn, for who reads its pixels.
export const screenPicture = () => picture;

// ------------------------------------------------------------------------------------------------- drawing

function show({ view, overlay, other }) {
    const ready = view.other === "signal" || other !== null;
    const over = overlay !== null && view.overlay !== "none";
    if (view.held && ready) return SHOW.OTHER;
    if (view.mode === "divide" && ready) return over ? SHOW.DIVIDE_OVERLAY : SHOW.DIVIDE;
    return over ? SHOW.OVERLAY : SHOW.LOOK;
}

// What the server can colour frames by as they are in view: { table, divide }; none where only the picture itself can show it.
export function colouring() {
    const { view, cube, overlay, other } = state;
    const what = show(state);
    const divided = what === SHOW.DIVIDE || what === SHOW.DIVIDE_OVERLAY;
    const one = view.nudge === 0 && (view.mode === "look" || view.mode === "divide") && what !== SHOW.OTHER;
    if (!cube || !one || (divided && view.other !== "signal" && other !== null)) return null;
    const { table } = what === SHOW.OVERLAY || what === SHOW.DIVIDE_OVERLAY ? overlay : cube;
    return { table, divide: divided ? view.divide : 0 };
}

let lastTables = [];

// Whether a frame is coloured as it is wanted. Of a live picture that goes on the table before will do, and any divide: the next
// frame is right.
export function isShown({ coloured }) {
    const wanted = colouring();
    if (wanted && lastTables[0] !== wanted.table) lastTables = [wanted.table, lastTables[0]];
    if (!coloured || !wanted) return false;
    return state.live?.frozen ? same(wanted, { table: coloured.table, divide: coloured.divide }) : lastTables.includes(coloured.table);
}

// Pixels of a frame from which on a browser without a graphics card may take a second to draw it; milliseconds from which on it is
// drawn by fewer pixels while it moves, and what that is to take; and after how long it no longer moves.
const LARGE = 1 << 20;
const HEAVY = 100;
const LIGHT = 40;
const MOVES = 300;
const MOST_SPACED = 8;

// Milliseconds that the last large frame took with all of its pixels.
let took = 0;
let movedAt = -Infinity;
let resting = null;

// Which pixels are drawn: every one, unless something moves that cannot be drawn as fast. All of them are drawn once it rests.
function spacing({ width, height }) {
    clearTimeout(resting);
    const now = performance.now();
    const isMoving = now - movedAt < MOVES;
    movedAt = now;
    if (width * height < LARGE || took < HEAVY || !isMoving) return 1;
    resting = setTimeout(() => {
        [drawnLast, movedAt] = [[], -Infinity];
        change({});
    }, MOVES);
    return clamp(Math.ceil(Math.sqrt(took / LIGHT)), 2, MOST_SPACED);
}

function time({ width, height }) {
    if (width * height < LARGE) return;
    const start = performance.now();
    picture.finished().then(() => { took = performance.now() - start; });
}

let isColoured = false;
let lastNudge = null;
let drawnLast = [];

// Drawn only where it changes: a card in software takes longer for it than all the rest of the page takes.
drawn((state) => {
    const { frame, cube, other, overlay, view, curve } = state;
    if (!picture?.works || !frame || !cube) return;
    const { mode: wanted, other: against, divide, held, overlay: over, nudge: by } = view;
    const under = compare.underOf(frame);
    const now = [picture.programs, frame, cube, other, overlay, curve?.camera, wanted, against, divide, held, over, by, mat().join(), under];
    if (now.length === drawnLast.length && now.every((v, i) => v === drawnLast[i])) return;
    drawnLast = now;
    isColoured = isShown(frame);
    if (isColoured) {
        put(frame);
        // Who points at a pixel goes by this canvas.
        return void picture.resize(frame, "look");
    }
    putAway();
    picture.frame(frame);
    picture.cube("look", cube);
    if (other) picture.cube("other", other);
    if (other?.frame) {
        picture.frame(other.frame, "otherFrame");
        picture.cube("own", other.own.cube);
    }
    if (overlay) picture.cube("overlay", overlay);
    const nudged = view.nudge !== 0 && curve !== null;
    if (nudged && !same(lastNudge, [view.nudge, curve.camera])) {
        lastNudge = [view.nudge, curve.camera];
        picture.nudge(curve.camera.table(view.nudge));
    }
    // Tiles are drawn by themselves.
    if (view.mode === "grid") return;
    const otherIsSignal = view.other === "signal" || other === null;
    const mode = layoutOf(view);
    const every = spacing(frame);
    const ownIsNudged = other?.own?.camera === state.pick.camera;
    picture.draw({ frame, mode, show: show(state), divide, nudged, apart: Boolean(other?.frame), ownIsNudged, otherIsSignal, mat: mat(), every, under });
    if (every === 1) time(frame);
}, { each: true });

// When the picture has been drawn. A plain canvas is shown with the page's next frame.
export function finished() {
    if (isColoured) return new Promise((resolve) => { requestAnimationFrame(resolve); });
    return picture?.works ? picture.finished() : Promise.resolve();
}

// What each side of the divide is, in words.
function sideWords({ view, other, pick, show: { cameras } }) {
    if (view.other === "signal") return "Camera signal, no look";
    const { look, at, shot, shot_at: shotAt } = side(view.other);
    if (shot === pick.shot && shot) return `Shot ${shot}${shotAt === "saved" ? ", as saved" : ""}`;
    if (shot && !other) return `Shot ${shot}`;
    if (shot && !other.isOwn) return `Shot ${shot}\u2019s correction on this frame`;
    if (shot) {
        const of = other.own && other.own.camera !== pick.camera ? cameras.find((c) => c.name === other.own.camera) : null;
        return [`Shot ${shot}, its own frame`, of && (of.label || of.name), of && view.nudge && "without the nudge"].filter(Boolean).join(", ");
    }
    const title = titleOf(look);
    return `${title}, ${at === "now" ? "now" : at === "saved" ? "as saved" : at}`;
}

drawn((state) => {
    const { view, frame, look, show, pick } = state;
    const none = show !== null && show.frames.length === 0;
    find("no-frame").hidden = !none;
    find("picture").hidden = none;
    if (!show || !look || !frame) return;
    const comparing = view.mode === "compare" && !view.held;
    const tiled = view.mode === "grid";
    const { width, height } = Picture.extent(frame, comparing ? "compare" : "look", { under: compare.underOf(frame) });
    find("picture").style.setProperty("--ratio", `${width / height}`);
    const before = sideWords(state);
    const after = pick.shot ? `Shot ${pick.shot}: ${look.title}` : `${look.title}, now`;
    const alone = view.held ? before : view.overlay === "none" ? after : `Exposure: ${camera()?.label ?? ""}`;
    find("viewing").dataset.mode = tiled ? "grid" : comparing ? "compare" : "one";
    if (tiled) return void ["side-left", "side-right"].forEach((id) => say(find(id), ""));
    say(find("side-left"), view.held || view.mode === "look" ? alone : before);
    say(find("side-right"), view.held || view.mode === "look" ? "" : view.mode === "divide" && view.overlay !== "none" ? "Exposure" : after);
    compare.place(frame, [before, after, state.other?.frame ? "Difference on this frame" : "Difference"]);
    for (const id of ["side-left", "side-right"]) find(id).title = find(id).textContent;
    find("canvas").setAttribute("aria-label", `The frame. ${view.mode === "look" ? alone : `${before}; beside it ${after}`}`);
});

drawn(({ view, frame, cross }) => {
    const divide = find("divide");
    divide.hidden = view.mode !== "divide" || view.held;
    divide.style.left = `${100 * view.divide}%`;
    divide.setAttribute("aria-valuenow", Math.round(100 * view.divide));
    divide.setAttribute("aria-valuetext", `${Math.round(100 * view.divide)} % from the left`);
    const mark = find("cross");
    mark.hidden = view.mode === "compare" || view.mode === "grid" || !cross || !frame;
    if (mark.hidden) return;
    mark.style.left = `${(100 * (cross.x + 0.5)) / frame.width}%`;
    mark.style.top = `${(100 * (cross.y + 0.5)) / frame.height}%`;
    mark.setAttribute("aria-label", `Cross: the pixel that is read, column ${cross.x}, row ${cross.y}`);
});

drawn(({ view, curve, pick }) => {
    const into = pick.shot ? `shot ${pick.shot}, as exposure by its offset` : "look, as exposure";
    for (const name of ["title", "aria-label"]) find("nudge-keep").setAttribute(name, `Apply: put the nudge into the ${into}`);
    say(find("nudge"), `${signed(view.nudge)} stops`);
    for (const id of ["nudge-up", "nudge-down"]) find(id).disabled = curve === null;
    for (const id of ["nudge-none", "nudge-keep"]) find(id).disabled = view.nudge === 0;
});

// ---------------------------------------------------------------------------------------------- under the picture

drawn((state) => {
    const { view, cube, errors, look, frame } = state;
    say(find("picture-fault"), [errors.graphics, errors.picture, errors.other, errors.overlay].filter(Boolean).join("; "));
    const hdr = display()?.hdr ? display() : null;
    const asCodes = "HDR on an SDR screen: its code values are shown as if they were this screen\u2019s";
    say(find("hdr"), !hdr ? "" : view.screen === "none" ? asCodes : cube?.says || hdr.sdr_note);
    say(find("frame-says"), frame?.says ? `Frame: ${frame.says}.` : "");
    say(find("baked"), cube && look ? `${cube.points} points, baked in ${plain(cube.millis, 0)} ms` : "");
});

// --------------------------------------------------------------------------------------------------- nudge and divide

export function nudge(stops) {
    if (state.curve === null) return;
    change({ nudge: clamp(stops, -FAR, FAR) }, "view");
    readPixel();
}

// The nudge becomes the shot's own, by its offset; without a shot the look's: in its first exposure, or in a new one after a compress that it begins with.
function keepNudge() {
    const by = state.view.nudge;
    if (state.pick.shot) {
        help({ op: "exposure", stops: by });
        return void nudge(0);
    }
    edit({ op: "raise", stops: by });
    nudge(0);
}

const divideAt = (part) => change({ divide: clamp(part, 0, 1) }, "view");

function dragDivide(handle) {
    handle.addEventListener("pointerdown", (event) => {
        event.preventDefault();
        handle.focus();
        handle.setPointerCapture(event.pointerId);
    });
    handle.addEventListener("pointermove", (event) => {
        if (!handle.hasPointerCapture(event.pointerId)) return;
        const { left, width } = find("canvas").getBoundingClientRect();
        divideAt((event.clientX - left) / width);
    });
}

// ------------------------------------------------------------------------------------------------------ pixels

// The pixel of the frame under the pointer, in whichever pane it is.
// `held`: the nearest one, where the pointer has left it.
export function pixelAt(event, held = false) {
    const { frame } = state;
    if (state.view.mode === "grid") return null;
    const { left, top, width, height } = find("canvas").getBoundingClientRect();
    if (!frame || !width) return null;
    const under = compare.underOf(frame);
    const { width: across, height: down } = Picture.extent(frame, layoutOf(state.view), { under });
    const { x, y } = paneAt({ x: Math.floor(((event.clientX - left) / width) * across), y: Math.floor(((event.clientY - top) / height) * down) }, frame, under);
    if (held) return { x: clamp(x, 0, frame.width - 1), y: clamp(y, 0, frame.height - 1) };
    return x < 0 || y < 0 || x >= frame.width || y >= frame.height ? null : { x, y };
}

function pointAt(at) {
    if (same(at, state.pointer)) return;
    change({ pointer: at });
    readPixel();
}

export function crossTo(at) {
    const { frame } = state;
    if (!frame || !at) return;
    change({ cross: { x: clamp(at.x, 0, frame.width - 1), y: clamp(at.y, 0, frame.height - 1) }, pointer: null });
    readPixel();
}

// -------------------------------------------------------------------------------------------------------- keys

const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

function crossKeys(event) {
    const by = ARROWS[event.key];
    if (!by || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    event.stopPropagation();
    const far = event.shiftKey ? 10 : 1;
    crossTo({ x: state.cross.x + far * by[0], y: state.cross.y + far * by[1] });
}

function divideKeys(event) {
    const far = event.shiftKey ? 0.1 : 0.01;
    const to = { Home: 0, End: 1, PageUp: state.view.divide + 0.1, PageDown: state.view.divide - 0.1 }[event.key];
    const by = ARROWS[event.key]?.[0];
    if (to === undefined && !by) return;
    event.preventDefault();
    event.stopPropagation();
    divideAt(to ?? state.view.divide + far * by);
}

function pictureKeys(event) {
    // A tile has keys of its own, and buttons.
    if (event.ctrlKey || event.metaKey || event.altKey || event.target.closest("#tiles, #numbers")) return;
    const by = ARROWS[event.key];
    if (event.key === "0") nudge(0);
    else if (event.key === " " && event.target.id !== "cross" && state.view.mode !== "grid") change({ held: true }, "view");
    else if (by?.[1]) nudge(state.view.nudge - by[1] * (event.shiftKey ? 1 : QUARTER));
    else if (by && state.view.mode === "divide") divideAt(state.view.divide + (event.shiftKey ? 0.1 : 0.01) * by[0]);
    else return;
    event.preventDefault();
}

export function begin() {
    const canvas = find("canvas");
    try {
        picture = new Picture(canvas);
    } catch (error) {
        fault("graphics", `This browser cannot draw the picture: ${error.message}`);
    }
    if (picture && !picture.works) fault("graphics", "This browser has no WebGL 2, which the picture needs; the numbers still hold.");
    if (picture) {
        picture.lost = () => fault("graphics", "The browser has lost the graphics card: the picture comes back by itself once it is there again; if it does not, load the page anew. Nothing else is lost.");
        picture.restored = () => {
            lastNudge = null;
            fault("graphics", null);
            change({});
        };
    }
    const around = find("picture");
    around.addEventListener("keydown", pictureKeys);
    around.addEventListener("keyup", (event) => event.key === " " && change({ held: false }, "view"));
    around.addEventListener("blur", () => state.view.held && change({ held: false }, "view"));
    canvas.addEventListener("pointermove", (event) => pointAt(pixelAt(event)));
    canvas.addEventListener("pointerleave", () => pointAt(null));
    canvas.addEventListener("click", (event) => { crossTo(pixelAt(event)); around.focus(); });
    find("cross").addEventListener("keydown", crossKeys);
    find("divide").addEventListener("keydown", divideKeys);
    dragDivide(find("divide"));
    find("nudge-up").addEventListener("click", () => nudge(state.view.nudge + QUARTER));
    find("nudge-down").addEventListener("click", () => nudge(state.view.nudge - QUARTER));
    find("nudge-none").addEventListener("click", () => nudge(0));
    find("nudge-keep").addEventListener("click", keepNudge);
}
