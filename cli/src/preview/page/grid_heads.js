// What stands above each tile, and the strip in which tiles are chosen, added and made.

import { choices, find, make, minus, say, titled } from "./dom.js";
import { allDone, edit } from "./edits.js";
import { MOST, isGrid } from "./grid_work.js";
import { Lost } from "./server.js";
import { LIVE, change, drawn, fault, state } from "./state.js";
import { frameOfShot, readShow, shotOf, titleOf } from "./work.js";

const option = (value, label) => ({ value: String(value), label });
const labelOf = (list, name) => list.find((e) => e.name === name)?.label || name;
const frameOf = (id) => state.show.frames.find((f) => String(f.id) === id)?.name ?? "";

// ------------------------------------------------------------------------------------------------------ kept

// As long as the browser's tab, by the show.
const key = () => `tiles ${state.show.title}`;

export function lay(values) {
    change({ grid: { ...state.grid, ...values } });
    try {
        const { of, displays, frames } = state.grid;
        sessionStorage.setItem(key(), JSON.stringify({ of, displays, frames: frames?.map(({ camera, look, shot, frame }) => ({ camera, look, shot, name: frameOf(frame) })) }));
    } catch {
        // A browser that stores nothing still has them until the page is loaded anew.
    }
}

function stored() {
    try {
        return JSON.parse(sessionStorage.getItem(key()) ?? "{}");
    } catch {
        return {};
    }
}

// What there is to see beside the first, where nothing was chosen yet: another display, HDR first; the other frames.
function settle() {
    const { show, pick, grid, shots } = state;
    const { of = grid.of, displays, frames } = stored();
    const others = show.displays.filter((d) => d.name !== pick.display).sort((a, b) => Number(b.hdr) - Number(a.hdr));
    const byName = ({ name, camera, look, shot }) => ({ frame: String(show.frames.find((f) => f.name === name)?.id ?? ""), camera, shot: shot ?? null, ...(look ? { look } : {}) });
    return {
        ...grid,
        of: ["displays", "frames", "versions"].includes(of) ? of : grid.of,
        displays: known((displays ?? grid.displays ?? others.slice(0, 1).map((d) => d.name)), (name) => show.displays.some((d) => d.name === name), MOST.displays),
        frames: known(grid.frames ?? frames?.map(byName) ?? show.frames.filter((f) => String(f.id) !== pick.frame && f.id !== LIVE).map((f) => ({ frame: String(f.id), camera: pick.camera, shot: null })),
            (tile) => isThere(tile, state) && (tile.shot === null || (shots?.shots ?? []).some((s) => s.name === tile.shot)), MOST.frames),
    };
}

// A live picture is there for the tiles while it is the picture: a further tile has it through another camera.
const tiled = ({ show, pick }) => show.frames.filter((f) => f.id !== LIVE || pick.frame === LIVE);

const isThere = ({ frame, camera, look }, state) => tiled(state).some((f) => String(f.id) === frame) && state.show.cameras.some((c) => c.name === camera)
    && (!look || state.show.looks.some((l) => l.name === look));

const known = (list, is, most) => list.filter(is).slice(0, most - 1);

// ----------------------------------------------------------------------------------------------- above each tile

const select = (label, set) => make("select", { "aria-label": label, onchange: (event) => set(event.target.value) });

// What is chosen is whole in its title, where there is no room for it.
function chooses(node, list, picked) {
    choices(node, list, picked);
    node.title = node.selectedOptions[0]?.text ?? "";
}

const close = (label, act) => make("button", { type: "button", class: "small", "aria-label": label, title: label, onclick: act }, "\u00d7");

const without = (list, at) => list.filter((_, i) => i !== at);
const changed = (list, at, values) => list.map((entry, i) => (i !== at ? entry : typeof entry === "string" ? values : { ...entry, ...values }));

function displays(spec, index) {
    const name = ({ display }) => labelOf(state.show.displays, display);
    if (index === 0) return plainHead(name);
    const pick = select(`Display of tile ${index + 1}`, (value) => lay({ displays: changed(state.grid.displays, index - 1, value) }));
    const remove = close(`Remove tile ${index + 1}`, () => lay({ displays: without(state.grid.displays, index - 1) }));
    const update = (now) => {
        choices(pick, state.show.displays.map((d) => option(d.name, d.label || d.name)), now.display);
        return name(now);
    };
    return { node: [pick, remove], update };
}

function frames(spec, index) {
    const name = ({ frame, camera, shot }) => [frameOf(frame), labelOf(state.show.cameras, camera), shot ? `shot ${shot}` : null].filter(Boolean).join(", ");
    if (index === 0) return plainHead(name);
    const set = (values) => lay({ frames: changed(state.grid.frames, index - 1, values) });
    const frame = select(`Frame of tile ${index + 1}`, (value) => set({ frame: value }));
    const camera = select(`Camera of tile ${index + 1}`, (value) => set({ camera: value }));
    const shot = select(`Shot of tile ${index + 1}`, async (value) => set(value ? await ofShot(value, state.grid.frames[index - 1]) : { shot: null, look: undefined }));
    const remove = close(`Remove tile ${index + 1}`, () => lay({ frames: without(state.grid.frames, index - 1) }));
    const update = (now) => {
        const { show, shots } = state;
        const names = (shots?.shots ?? []).map((s) => s.name);
        chooses(frame, tiled(state).map((f) => option(f.id, f.name)), now.frame);
        chooses(camera, show.cameras.map((c) => option(c.name, c.label || c.name)), now.camera);
        chooses(shot, [option("", "No shot"), ...names.map((n) => option(n, n))], now.shot ?? "");
        shot.hidden = names.length === 0;
        return name(now);
    };
    return { node: [frame, camera, shot, remove], update };
}

// A tile that is given a shot takes what the shot is of: its frame, its camera, its look.
async function ofShot(name, tile) {
    const { camera, look } = shotOf(name);
    let frame = null;
    try {
        frame = await frameOfShot(name);
        if (frame !== null) await readShow();
        fault("grid", null);
    } catch (error) {
        if (!(error instanceof Lost)) fault("grid", error.message);
    }
    return { shot: name, frame: frame ?? tile.frame, camera: camera ?? tile.camera, look: look ?? undefined };
}

// What a tile shows of its shot, where that is not plain from its lists.
export function shotWords({ shot, frame, camera, look }) {
    const { show, pick } = state;
    const through = look !== pick.look ? `through ${titleOf(look)}` : null;
    if (!shot) return through ?? "";
    const { camera: its, frame: stated } = shotOf(shot) ?? {};
    const isOwn = stated && frameOf(frame) === stated;
    const of = [stated ? (isOwn ? "its frame" : "another frame than its own") : "the show has no frame of it", its && its !== camera ? "another camera than its own" : null, through];
    return `Shot ${shot}: ${of.filter(Boolean).join(", ")}`;
}

// The value that differs comes first: "3.35 contrast" of "print contrast 4.4 -> 3.35 density per log exposure".
export function shortOf(words) {
    const [, what, to] = /^(.*?) \S+ -> (\S+)/.exec(words) ?? [];
    return to && !/[[,]/.test(words) ? `${to} ${what.split(" ").slice(what.includes(" ") ? 1 : 0).join(" ")}` : words;
}

function versions(spec, index) {
    if (index === 0) return plainHead(() => "As it is now");
    const words = make("span", { class: "name" });
    const take = make("button", { type: "button", class: "small", title: "The look becomes this version; the others go (Enter)", onclick: () => edit({ op: "take_held", id: spec.id }) }, "Take");
    const update = ({ changes }) => {
        const said = changes.length ? minus(titled(changes.join("; "))) : "As the look is now";
        say(words, changes.length ? minus(titled(changes.map(shortOf).join("; "))) : said);
        words.title = said;
        take.setAttribute("aria-label", `Take tile ${index + 1}: ${said}`);
        return said;
    };
    return { node: [words, take, close(`Let tile ${index + 1} go`, () => edit({ op: "drop_held", id: spec.id }))], update };
}

function plainHead(name) {
    const node = make("span", { class: "name" });
    const update = (spec) => {
        say(node, name(spec));
        node.title = node.textContent;
        return node.textContent;
    };
    return { node, update };
}

export const heads = { displays, frames, versions };

// ------------------------------------------------------------------------------------------------------ the strip

const KINDS = [option("displays", "Displays"), option("frames", "Frames and cameras"), option("versions", "Versions of the look")];

// Settings of the look that are one number, by step and key.
function numbers() {
    const { look, show } = state;
    return look.steps.flatMap((step, index) => {
        const kind = show.kinds.find((k) => k.do === step.do);
        const fields = (kind?.fields ?? []).filter((f) => f.type === "number" && (step.given.includes(f.key) || f.default !== null));
        const same = look.steps.filter((s) => s.do === step.do).length > 1;
        return fields.map((field) => ({ index, step, field, label: `${titled(step.do)}${same ? ` ${index + 1}` : ""}: ${field.label}` }));
    });
}

const idOf = ({ index, field }) => `${index} ${field.key}`;
const chosen = () => numbers().find((n) => idOf(n) === find("series-of").value);
// As fine as an eye tells versions apart.
const round = (value) => Number(value.toPrecision(3));

// From the value as it is a quarter of what the slider spans to each side, within what the setting may be.
function suggest() {
    const of = chosen();
    if (!of) return;
    const { field, step } = of;
    const now = step.values[field.key] ?? field.default;
    const reach = (field.soft_max - field.soft_min) / 4;
    find("series-low").value = round(Math.max(now - reach, field.min));
    find("series-high").value = round(Math.min(now + reach, field.max));
    say(find("series-unit"), field.unit ? `unit: ${field.unit}` : "");
}

async function series() {
    const of = chosen();
    const [low, high, count] = ["series-low", "series-high", "series-count"].map((id) => find(id).valueAsNumber);
    if (!of || ![low, high, count].every(Number.isFinite) || count < 2) return;
    const values = Array.from({ length: count }, (_, i) => round(low + ((high - low) * i) / (count - 1)));
    const before = state.look.held.length;
    edit({ op: "hold_steps", step: of.index, key: of.field.key, values });
    made = "";
    await allDone();
    if (state.errors.versions) return;
    const not = values.length - (state.look.held.length - before);
    const said = not === 1 ? "One of them is there already: it is not held twice." : `${not} of them are there already: they are not held twice.`;
    made = not > 0 ? said : "";
    change({});
}

// What the last series did not hold, until the next one.
let made = "";

function add() {
    const { grid, show, pick } = state;
    if (grid.of === "displays") {
        const free = show.displays.find((d) => d.name !== pick.display && !grid.displays.includes(d.name)) ?? show.displays.at(-1);
        lay({ displays: [...grid.displays, free.name] });
    } else {
        const there = [pick.frame, ...grid.frames.map((f) => f.frame)];
        const free = tiled(state).find((f) => !there.includes(String(f.id)));
        const camera = free ? pick.camera : show.cameras.find((c) => c.name !== pick.camera && !grid.frames.some((f) => f.camera === c.name))?.name ?? pick.camera;
        lay({ frames: [...grid.frames, { frame: String(free?.id ?? pick.frame), camera, shot: null }] });
    }
}

const HINTS = {
    displays: "First: the display that is picked.",
    frames: "First: the picture as it is picked. Click in a tile to read there.",
    versions: "First: the look as it is now.",
};
const MEAN = "A pixel of a tile is the mean of the frame\u2019s pixels that it stands for.";

// What the show does not have any more.
const isStale = (state) => state.grid.displays === null || state.grid.displays.some((name) => !state.show.displays.some((d) => d.name === name))
    || state.grid.frames.some((tile) => !isThere(tile, state));

let wasOn = false;

drawn((state) => {
    const on = isGrid(state);
    find("grid-strip").hidden = !on;
    if (!on || !state.show || !state.look) return void (wasOn = false);
    if (!wasOn || isStale(state)) {
        wasOn = true;
        return change({ grid: settle() });
    }
    const { grid, look, errors } = state;
    choices(find("grid-of"), KINDS, grid.of);
    const isVersions = grid.of === "versions";
    find("grid-add").hidden = isVersions;
    find("grid-add").disabled = !isVersions && grid[grid.of].length >= MOST[grid.of] - 1;
    find("hold-form").hidden = !isVersions;
    find("hold-none").disabled = !look.held?.length;
    const before = find("series-of").value;
    choices(find("series-of"), numbers().map((n) => option(idOf(n), n.label)), before || null);
    if (!find("series-of").value && find("series-of").options.length) find("series-of").selectedIndex = 0;
    if (find("series-of").value !== before || find("series-low").value === "") suggest();
    say(find("grid-says"), [isVersions && made, HINTS[grid.of], MEAN].filter(Boolean).join(" "));
    find("grid-says").title = find("grid-says").textContent;
    say(find("grid-fault"), [errors.grid, errors.versions].filter(Boolean).join("; "));
});

export function begin() {
    find("grid-of").addEventListener("change", (event) => lay({ of: event.target.value }));
    find("grid-add").addEventListener("click", add);
    find("series-of").addEventListener("change", suggest);
    find("hold-now").addEventListener("click", () => edit({ op: "hold" }));
    find("hold-none").addEventListener("click", () => edit({ op: "drop_held" }));
    find("hold-form").addEventListener("submit", (event) => {
        event.preventDefault();
        series();
    });
}
