// Several pictures at once: displays side by side, frames of several cameras under one look, or versions of the look. One canvas
// lies under all of them; what is said of each stands above and below it, never over it.

import { clamp, find, make, plain, same, say, signed } from "./dom.js";
import { edit } from "./edits.js";
import { GridPicture } from "./grid_draw.js";
import { isGrid, readingOf, specs, tileOf } from "./grid_work.js";
import { heads, shotWords } from "./grid_heads.js";
import { crossTo, mat, screenPicture } from "./stage.js";
import { LIVE, change, drawn, state } from "./state.js";
import { eiOf, readPixel } from "./work.js";

let cells = [];
let shape = null;

// ------------------------------------------------------------------------------------------------------ layout

// Between tiles, as the style sheet has it.
const GAP = 8;

// The width of a picture of this shape in so many columns; `around`: the height of what is said of it.
function across(columns, count, ratio, { width, height }, around) {
    const rows = Math.ceil(count / columns);
    return Math.min((width - GAP * (columns - 1)) / columns, Math.max((height - GAP * (rows - 1)) / rows - around, 40) * ratio);
}

// Columns in which so many pictures of this shape are largest.
export function columnsFor(count, ratio, room, around) {
    const size = (columns) => across(columns, count, ratio, room, around);
    let best = 1;
    for (let columns = 2; columns <= count; columns += 1) if (size(columns) > size(best) * 1.001) best = columns;
    return best;
}

function cellOf(spec, index) {
    const view = make("div", { class: "view", tabindex: 0, role: "group" }, make("div", { class: "mark", "aria-hidden": "true" }));
    const head = heads[state.grid.of](spec, index);
    const [did, reading] = [make("p", { class: "did" }), make("p", { class: "reading old" }, make("span", {}, "\u2026"), make("span", {}, "\u2026"))];
    const node = make("section", { class: "tile" }, make("div", { class: "head" }, head.node), view, did, reading);
    listen(view, index);
    return { node, view, head, did, reading };
}

// What the tiles are made anew for; all else is brought up to date in them.
const shapeOf = ({ grid, show, shots, pick }, list) => [grid.of, pick.frame === LIVE, list.map((s) => s.id ?? null), show.displays.map((d) => d.name), show.cameras.map((c) => c.name),
    show.frames.map((f) => f.id), (shots?.shots ?? []).map((s) => s.name)];

// What was done to a display's picture so that this screen can show it.
function didTo({ display }, { show, view }) {
    const of = show.displays.find((d) => d.name === display);
    if (view.overlay !== "none") return "";
    if (view.screen === "none") return of?.hdr ? "HDR code values as if they were this screen\u2019s" : "Its code values as they are";
    return of?.sdr_note ?? "SDR: its light as an sRGB screen shows it; colours outside sRGB are clipped";
}

// The exposure index that an overlay is of: each camera has its own.
function exposedAs({ camera }, { view }) {
    if (view.overlay === "none") return "";
    const ei = eiOf(camera);
    return ei === null ? "Overlay: not rated" : `Overlay: EI ${ei}`;
}

function readingWords(tile) {
    const reading = readingOf(tile);
    if (!reading) return null;
    const stops = reading.stops === null ? "no light" : `${signed(reading.stops)} stops`;
    const [l, a, b] = reading.lab.map((v) => plain(v, 1));
    return [`${stops} \u00b7 ${plain(reading.nits, reading.nits < 10 ? 2 : 1)} nits`, `L* ${l} a* ${a} b* ${b}`];
}

function update(cell, spec, index, tile) {
    const name = cell.head.update(spec, index);
    const { frame, cross } = tile;
    cell.view.style.setProperty("--ratio", frame ? frame.width / frame.height : 1.78);
    const words = readingWords(tile);
    const framed = () => [shotWords(spec), exposedAs(spec, state)].filter(Boolean).join(". ");
    say(cell.did, { displays: () => didTo(spec, state), frames: framed, versions: () => "" }[state.grid.of]());
    // An older reading is not seen, and keeps its room.
    cell.reading.classList.toggle("old", words === null);
    if (words) cell.reading.childNodes.forEach((node, i) => say(node, words[i]));
    const mark = cell.view.firstChild;
    mark.hidden = !cross;
    if (cross) {
        mark.style.left = `${(100 * (cross.x + 0.5)) / frame.width}%`;
        mark.style.top = `${(100 * (cross.y + 0.5)) / frame.height}%`;
    }
    cell.view.dataset.name = name;
    cell.view.setAttribute("aria-label", `${name}. ${cross ? `The cross, column ${cross.x}, row ${cross.y}: ${words?.join(", ") ?? "not read yet"}` : ""}`);
}

// ----------------------------------------------------------------------------------------------------- drawing

let picture = null;
let nudges = [];

// The table of a nudge by a camera's curve; the same one for the same nudge.
function nudgeOf(curve) {
    const { nudge, overlay } = state.view;
    // An overlay reads the frame as it was recorded.
    if (nudge === 0 || !curve || overlay !== "none") return null;
    let found = nudges.find((n) => n.curve === curve && n.nudge === nudge);
    if (!found) nudges = [(found = { curve, nudge, table: curve.table(nudge) }), ...nudges].slice(0, 8);
    return found.table;
}

// Where a tile lies on the canvas, in whole pixels.
function rectOf(view, canvas) {
    const [inner, outer] = [view.getBoundingClientRect(), canvas.getBoundingClientRect()];
    const edges = [inner.left - outer.left, inner.top - outer.top, inner.right - outer.left, inner.bottom - outer.top];
    const [left, top, right, bottom] = edges.map((v) => Math.round(v * devicePixelRatio));
    return { left, top, width: right - left, height: bottom - top };
}

// The tiles as they are drawn: { spec, rect, frame, cube, curve, cross, nudge }.
export const tiles = () => cells.map(({ view }, i) => {
    const tile = tileOf(specs(state)[i]);
    return { ...tile, rect: rectOf(view, find("canvas")), nudge: nudgeOf(tile.curve) };
});

function draw(list) {
    const screen = screenPicture();
    if (!screen?.works) return;
    const canvas = find("canvas");
    const [width, height] = [canvas.clientWidth, canvas.clientHeight].map((v) => Math.max(Math.round(v * devicePixelRatio), 1));
    if (canvas.width !== width || canvas.height !== height) Object.assign(canvas, { width, height });
    // A context that came back has nothing of the one before.
    if (picture?.of !== screen.programs) picture = Object.assign(new GridPicture(screen), { of: screen.programs });
    const ready = list.filter(({ frame, cube, rect, curve }) => frame && cube && (curve || state.view.nudge === 0) && rect.width > 0 && rect.height > 0);
    picture.draw(canvas, ready, mat());
}

drawn((state) => {
    const on = isGrid(state);
    const list = on ? specs(state) : [];
    find("tiles").hidden = list.length === 0;
    if (!list.length) {
        if (cells.length) find("tiles").replaceChildren();
        [cells, shape] = [[], null];
        return;
    }
    if (state.layout.zoom !== 0) return change({ zoom: 0 }, "layout");
    const now = shapeOf(state, list);
    if (!same(now, shape)) rebuild(list, now);
    const made = list.map(tileOf);
    const ratio = state.frame ? state.frame.width / state.frame.height : 1.78;
    cells.forEach((cell, i) => update(cell, list[i], i, made[i]));
    const grid = find("tiles");
    layOut(grid, ratio, made);
    draw(made.map((tile, i) => ({ ...tile, rect: rectOf(cells[i].view, find("canvas")), nudge: nudgeOf(tile.curve) })));
    find("canvas").setAttribute("aria-label", `${list.length} pictures: ${cells.map(({ view }) => view.dataset.name).join("; ")}`);
});

function layOut(grid, ratio, made) {
    const style = getComputedStyle(grid);
    const room = { width: grid.clientWidth - parseFloat(style.paddingLeft) - parseFloat(style.paddingRight), height: grid.clientHeight };
    // What stands above and below each picture; the highest holds for all, so that they are of one size. In another width its words
    // may take another number of lines.
    let around = null;
    for (let turn = 0; turn < 3; turn += 1) {
        grid.style.removeProperty("--head");
        grid.style.setProperty("--head", `${Math.max(...cells.map(({ node }) => node.firstChild.offsetHeight))}px`);
        const now = Math.max(...cells.map(({ node, view }) => node.offsetHeight - view.offsetHeight));
        if (around !== null && now <= around) return;
        around = now;
        const columns = columnsFor(cells.length, ratio, room, around);
        grid.style.setProperty("--columns", columns);
        cells.forEach(({ node }, i) => {
            const own = made[i].frame ? made[i].frame.width / made[i].frame.height : ratio;
            node.style.setProperty("--across", `${Math.floor(across(columns, cells.length, own, room, around))}px`);
        });
    }
}

// The keyboard's place stays where it was.
function rebuild(list, now) {
    const grid = find("tiles");
    const held = grid.contains(document.activeElement) ? cells.findIndex(({ node }) => node.contains(document.activeElement)) : -1;
    shape = now;
    cells = list.map(cellOf);
    grid.replaceChildren(...cells.map(({ node }) => node));
    if (held >= 0) cells[Math.min(held, cells.length - 1)].view.focus();
}

// ------------------------------------------------------------------------------------------------ pointer and keys

function pixelOf(event, view, { width, height }) {
    const box = view.getBoundingClientRect();
    const x = Math.floor(((event.clientX - box.left) / box.width) * width);
    const y = Math.floor(((event.clientY - box.top) / box.height) * height);
    return { x: clamp(x, 0, width - 1), y: clamp(y, 0, height - 1) };
}

const tileAt = (index) => tileOf(specs(state)[index] ?? specs(state)[0]);

// The pixel under the pointer is read by the path of its own tile.
function pointAt(event, view, index) {
    const { spec, frame, curve } = tileAt(index);
    if (!frame) return;
    const { look, camera, display, at, shot } = spec;
    const words = `tile ${index + 1}, ${view.dataset.name}`;
    change({ over: { at: pixelOf(event, view, frame), frame, curve, asked: { look, camera, display, at, shot }, words } });
    readPixel();
}

function leave() {
    if (!state.over) return;
    change({ over: null });
    readPixel();
}

function crossAt(index, at) {
    const { spec, frame } = tileAt(index);
    if (!frame) return;
    const within = { x: clamp(at.x, 0, frame.width - 1), y: clamp(at.y, 0, frame.height - 1) };
    if (spec.frame === state.pick.frame) return crossTo(within);
    change({ crosses: { ...state.grid.crosses, [spec.frame]: within } }, "grid");
    return change({ grid: { ...state.grid } });
}

const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

function keys(event, index) {
    if (event.target !== event.currentTarget || event.ctrlKey || event.metaKey || event.altKey) return;
    const by = ARROWS[event.key];
    const { spec, cross } = tileAt(index);
    if (event.key === "Enter" && spec.id) edit({ op: "take_held", id: spec.id });
    else if (event.key === "Delete" && spec.id) edit({ op: "drop_held", id: spec.id });
    else if (by && cross) {
        const far = event.shiftKey ? 10 : 1;
        crossAt(index, { x: cross.x + far * by[0], y: cross.y + far * by[1] });
    } else return;
    event.preventDefault();
    event.stopPropagation();
}

function listen(view, index) {
    view.addEventListener("pointermove", (event) => pointAt(event, view, index));
    view.addEventListener("pointerleave", leave);
    view.addEventListener("click", (event) => {
        const { frame } = tileAt(index);
        if (frame) crossAt(index, pixelOf(event, view, frame));
        view.focus();
    });
    view.addEventListener("keydown", (event) => keys(event, index));
}

export function begin() {
    find("picture").append(make("div", { id: "tiles", hidden: true }));
    new ResizeObserver(() => isGrid(state) && change({})).observe(find("tiles"));
}
