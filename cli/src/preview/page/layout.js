// How the page is laid out: controls and side, surround, size of the picture, the picture alone; and the keys of all that. What is
// chosen here is of this user, not of the show: the server keeps it from one day to the next.

import { keepLine } from "./alone.js";
import { choices, find, same, say } from "./dom.js";
import { showKeys } from "./keys.js";
import * as live from "./live.js";
import { Picture, layoutOf } from "./picture.js";
import { pinCross } from "./scope_pins.js";
import { Lost, newest, post } from "./server.js";
import { step } from "./shots_list.js";
import { change, drawn, fault, state } from "./state.js";

const SURROUNDS = ["dim", "grey", "black"];
const HEIGHTS = ["low", "tall", "folded"];
const TABS = ["shots", "steps", "history", "figures", "settings"];
const ZOOMS = [0, 1, 2];
const PANELS = { shots: "shots-panel", steps: "look-panel", history: "history-panel", figures: "figures", settings: "settings" };
const named = (list) => list.map(([value, label]) => ({ value, label }));
const SURROUND_NAMES = named([["dim", "Dim"], ["grey", "Near mid-grey"], ["black", "Black"]]);
const PAGE_NAMES = named([["dark", "Dark"], ["light", "Light"]]);

// What the server stores of it; the rest lasts as long as the page.
const STORED = ["surround", "page", "side", "controls", "letters", "scopes"];

const ZOOM_NAMES = named([["0", "Fit"], ["1", "1:1"], ["2", "2:1"]]);

const next = (list, value) => list[(list.indexOf(value) + 1) % list.length];

const choice = () => Object.fromEntries(STORED.map((name) => [name, state.layout[name]]));

// One at a time, or an older choice could be stored over a newer one; and also while the page is being left. Where it cannot be
// stored, the page is as it was chosen all the same, and says so.
const store = newest(async () => {
    try {
        await post("page", choice(), { keepalive: true });
        fault("stored", null);
    } catch (error) {
        if (!(error instanceof Lost)) fault("stored", `Not stored for the next start: ${error.message}`);
    }
});

// Something was chosen in this page: it holds against whatever was stored before.
let chosen = false;

export function lay(values) {
    change(values, "layout");
    if ("tab" in values) keep();
    if (!STORED.some((name) => name in values)) return;
    chosen = true;
    store();
}

// The tab and what is open of the side panel: as long as the browser's tab.
const KEPT = "page";
const FOLDS = ["scopes-choose", "worst"];

function keep() {
    try {
        sessionStorage.setItem(KEPT, JSON.stringify({ tab: state.layout.tab, open: FOLDS.filter((id) => find(id).open) }));
    } catch {
        // A browser that stores nothing begins with the first tab.
    }
}

// Once every part of the page is there.
export function recall() {
    try {
        const { tab, open = [] } = JSON.parse(sessionStorage.getItem(KEPT) ?? "{}");
        if (TABS.includes(tab)) change({ tab }, "layout");
        for (const id of FOLDS) find(id).open = open.includes(id);
    } catch {
        // What cannot be read was not written here.
    }
    for (const id of FOLDS) find(id).addEventListener("toggle", keep);
}

// What the server has stored: taken when the page begins. An answer that comes after a choice is older than the choice, and a
// server that was away may have missed it.
export function stored(values) {
    if (!chosen) change(values, "layout");
    else if (!same(values, choice())) store();
}

// ------------------------------------------------------------------------------------------------------ drawing

let lastHeight = "";

drawn(({ layout, errors }) => {
    const { dataset } = document.documentElement;
    const others = ["surround", "page", "side", "controls"].filter((name) => dataset[name] !== layout[name]);
    for (const name of others) dataset[name] = layout[name];
    // What is drawn by the style sheet's colours is drawn by the new ones.
    if (others.length) change({});
    if (layout.alone) dataset.alone = "yes";
    else delete dataset.alone;
    for (const tab of TABS) {
        const chosen = layout.tab === tab;
        find(`tab-${tab}`).setAttribute("aria-selected", chosen);
        find(`tab-${tab}`).tabIndex = chosen ? 0 : -1;
        find(PANELS[tab]).hidden = !chosen;
    }
    choices(find("surround"), SURROUND_NAMES, layout.surround);
    choices(find("page-light"), PAGE_NAMES, layout.page);
    find("letters").checked = layout.letters;
    say(find("stored-fault"), errors.stored ?? "");
    say(find("controls-size"), { low: "Taller", tall: "Hide controls", folded: "Show controls" }[layout.controls]);
    find("side-fold").setAttribute("aria-expanded", layout.side === "open");
    say(find("side-fold"), layout.side === "open" ? "Hide side" : "Show side");
    choices(find("zoom"), ZOOM_NAMES, layout.zoom);
    // A list that was out of sight begins at its top: what is chosen in it comes back into view.
    const height = `${layout.tab} ${layout.controls}`;
    if (height !== lastHeight) find("shots").querySelector("[aria-selected=true]")?.scrollIntoView({ block: "nearest" });
    lastHeight = height;
});

let last = null;

// A zoomed picture has so many pixels of the screen to a pixel of the frame, and shows the cross.
drawn(({ layout, frame, view }) => {
    const across = frame ? Picture.extent(frame, layoutOf(view)).width : 0;
    const now = [layout.zoom, frame?.id, across];
    if (same(now, last)) return;
    last = now;
    const fit = find("fit");
    fit.dataset.zoom = layout.zoom;
    find("picture").style.setProperty("--across", `${(layout.zoom * across) / devicePixelRatio}px`);
    if (layout.zoom) showCross();
});

function showCross() {
    const [fit, picture, cross] = ["fit", "picture", "cross"].map((id) => find(id));
    const [x, y] = [parseFloat(cross.style.left) || 50, parseFloat(cross.style.top) || 50];
    fit.scrollLeft = (x / 100) * picture.clientWidth - fit.clientWidth / 2;
    fit.scrollTop = (y / 100) * picture.clientHeight - fit.clientHeight / 2;
}

// ------------------------------------------------------------------------------------------------------ doing

const zoom = () => lay({ zoom: next(ZOOMS, state.layout.zoom) });

async function alone(is) {
    lay({ alone: is });
    try {
        if (is && !document.fullscreenElement) await document.documentElement.requestFullscreen();
        else if (!is && document.fullscreenElement) await document.exitFullscreen();
    } catch {
        // A browser may refuse the whole screen; the picture has the whole window then.
    }
    if (is) find("picture").focus();
}

function pan(across, down) {
    const fit = find("fit");
    fit.scrollBy(across * fit.clientWidth * 0.2, down * fit.clientHeight * 0.2);
}

// Drags a zoomed picture; a press that does not move is a click, for the cross.
function dragging(fit) {
    let from = null;
    let far = false;
    fit.addEventListener("pointerdown", (event) => {
        far = false;
        const held = event.target.id === "canvas" && state.layout.zoom;
        from = held ? { x: event.clientX, y: event.clientY, left: fit.scrollLeft, top: fit.scrollTop } : null;
    });
    fit.addEventListener("pointermove", (event) => {
        if (!from || !event.buttons) return;
        const [x, y] = [event.clientX - from.x, event.clientY - from.y];
        far ||= Math.hypot(x, y) > 4;
        if (far) fit.scrollTo(from.left - x, from.top - y);
    });
    fit.addEventListener("click", (event) => {
        if (far) event.stopPropagation();
        far = false;
    }, true);
}

const cycle = (id) => {
    const select = find(id);
    select.selectedIndex = (select.selectedIndex + 1) % select.options.length;
    select.dispatchEvent(new Event("change"));
};

function nextView() {
    const radios = [...document.querySelectorAll("[name=mode]")];
    const radio = radios[(radios.findIndex((r) => r.checked) + 1) % radios.length];
    radio.checked = true;
    radio.dispatchEvent(new Event("change"));
}

export const LETTERS = {
    f: () => alone(!state.layout.alone), i: keepLine, "?": showKeys,
    z: zoom,
    b: () => lay({ controls: next(HEIGHTS, state.layout.controls) }),
    g: () => lay({ side: state.layout.side === "open" ? "folded" : "open" }),
    u: () => lay({ surround: next(SURROUNDS, state.layout.surround) }),
    v: nextView,
    o: () => cycle("overlay"),
    c: pinCross,
    n: () => step(1), p: () => step(-1),
    l: () => live.freezeOrGo(), k: () => live.grab(), t: () => live.newShot(), ",": () => live.step(-1), ".": () => live.step(1),
    w: () => pan(0, -1), a: () => pan(-1, 0), s: () => pan(0, 1), d: () => pan(1, 0),
};

const isText = (node) => node.matches("textarea, input:not([type=range], [type=radio], [type=checkbox])");

// A list is left by Escape, and letters act in it as anywhere: after a choice the keyboard is still there.
function letters(event) {
    if (event.target.closest("dialog")) return void (event.key === "?" && showKeys());
    if (event.key === "Escape" && event.target.matches("select")) return void find("picture").focus();
    if (event.key === "Escape" && state.layout.alone) return void alone(false);
    if (event.ctrlKey || event.metaKey || event.altKey || !state.layout.letters || isText(event.target)) return;
    const act = LETTERS[event.key.toLowerCase()];
    if (!act) return;
    event.preventDefault();
    act();
}

// Left and right lead from tab to tab and around, Home and End to the first and the last.
function tabKeys(event) {
    const now = TABS.indexOf(state.layout.tab);
    const at = { ArrowLeft: (now + TABS.length - 1) % TABS.length, ArrowRight: (now + 1) % TABS.length, Home: 0, End: TABS.length - 1 }[event.key];
    if (at === undefined) return;
    event.preventDefault();
    lay({ tab: TABS[at] });
    find(`tab-${TABS[at]}`).focus();
}

export function begin() {
    for (const tab of TABS) {
        find(`tab-${tab}`).addEventListener("click", () => lay(state.layout.controls === "folded" ? { tab, controls: "low" } : { tab }));
    }
    find("tabs").addEventListener("keydown", tabKeys);
    find("controls-size").addEventListener("click", LETTERS.b);
    find("side-fold").addEventListener("click", LETTERS.g);
    find("zoom").addEventListener("change", (event) => lay({ zoom: Number(event.target.value) }));
    find("full").addEventListener("click", LETTERS.f);
    find("surround").addEventListener("change", (event) => lay({ surround: event.target.value }));
    find("page-light").addEventListener("change", (event) => lay({ page: event.target.value }));
    find("letters").addEventListener("change", (event) => lay({ letters: event.target.checked }));
    document.addEventListener("keydown", letters);
    document.addEventListener("fullscreenchange", () => !document.fullscreenElement && state.layout.alone && lay({ alone: false }));
    dragging(find("fit"));
}
