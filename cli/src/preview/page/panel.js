// What is picked and how it is viewed; the look's title, its saving, undo and redo; frames from files.

import { choices, find, make, same, say } from "./dom.js";
import { asked, edit, problemsOf, save } from "./edits.js";
import { shortcut } from "./shots.js";
import { LIVE, change, drawn, state } from "./state.js";
import { addFrame, bakeLook, bakeOther, bakeOverlay, compareSides, isClip, pick, readCurve, readFrame, shotOf, side } from "./work.js";

// ----------------------------------------------------------------------------------------------------------- picks

const option = (value, label) => ({ value: String(value), label: String(label) });
const named = (list) => list.map((e) => option(e.name, e.label || e.name));
const lookLabel = (l) => `${l.unsaved ? "• " : ""}${l.title}${l.left ? ", edits stored" : ""}${l.away ? ", not in the show" : ""}`;

drawn(({ show, pick, adding, errors }) => {
    if (!show) return;
    say(find("title"), show.title);
    choices(find("pick-look"), show.looks.map((l) => option(l.name, lookLabel(l))), pick.look);
    choices(find("pick-camera"), named(show.cameras), pick.camera);
    choices(find("pick-display"), named(show.displays), pick.display);
    const frames = show.frames.map((f) => option(f.id, `${f.name}, ${f.width} × ${f.height}`));
    choices(find("pick-frame"), frames.length ? frames : [option("", "None yet")], pick.frame);
    for (const name of ["look", "camera", "display", "frame"]) find(`pick-${name}`).title = find(`pick-${name}`).selectedOptions[0]?.text ?? "";
    say(find("frame-fault"), adding ? `Reading ${adding}…` : errors.frame ?? "");
    find("frame-fault").classList.toggle("fault", !adding);
    find("clip-take").disabled = Boolean(adding);
});

function picks() {
    for (const name of ["look", "camera", "display", "frame"]) {
        find(`pick-${name}`).addEventListener("change", async (event) => {
            await pick({ [name]: event.target.value });
            if (name === "look") asked(state.look);
        });
    }
}

// ------------------------------------------------------------------------------------------------------------ view

const OVERLAYS = [
    option("none", "None"), option("ladder", "Every stop"), option("key", "Mid-grey and a stop over"),
    option("clip", "Clip and floor"), option("range", "Outside a window"),
];
const BASES = [option("luminance", "Luminance"), option("highest", "Strongest channel")];
const SCREENS = [option("srgb", "Display as sRGB"), option("none", "Code values as they are")];
const READINGS = [option("log", "Camera signal"), option("light", "Scene light"), option("display", "Finished picture")];
const REVISION = "revision";

// Other shots, this one as its file has it, and no correction at all; all through the look that is picked.
function shotSides({ shots, pick }) {
    const list = (shots?.shots ?? []).map(({ name }) => (name === pick.shot ? option(`shot:${name}@saved`, `${name}, as saved`) : option(`shot:${name}@now`, name)));
    if (pick.shot) list.unshift(option(`${pick.look}@now`, "No correction"));
    return list.length ? [{ group: "Shots", list }] : [];
}

const isShot = ({ shots }, other) => (shots?.shots ?? []).some(({ name }) => [`shot:${name}@saved`, `shot:${name}@now`].includes(other));

function sides({ show, look, shots, pick }) {
    const looks = show.looks.map((l) => {
        const list = [option(`${l.name}@saved`, `${l.title}, as saved`)];
        if (l.name !== look.name) list.push(option(`${l.name}@now`, `${l.title}, as it is now`));
        return { group: l.name, list };
    });
    return [option("signal", "Camera signal"), ...shotSides({ shots, pick }), ...looks, option(REVISION, "Git revision…")];
}

const known = ({ show, shots }, other) => other === "signal" || isShot({ shots }, other) || show.looks.some((l) => [`${l.name}@saved`, `${l.name}@now`].includes(other));

drawn((state) => {
    const { show, view, pick, look } = state;
    if (!show || !look) return;
    for (const radio of document.querySelectorAll("[name=mode]")) radio.checked = radio.value === view.mode;
    const asked = find("revision-label");
    const byRevision = !known(state, view.other);
    choices(find("other"), sides(state), asked.dataset.open || byRevision ? REVISION : view.other);
    find("other").title = find("other").selectedOptions[0]?.text ?? "";
    asked.hidden = !(asked.dataset.open || byRevision);
    const revision = find("revision");
    if (byRevision && document.activeElement !== revision) revision.value = side(view.other).at;
    find("other-label").hidden = ["look", "grid"].includes(view.mode);
    choices(find("overlay"), show.exposure_kinds ? [OVERLAYS[0], ...named(show.exposure_kinds)] : OVERLAYS, view.overlay);
    find("overlay").title = find("overlay").selectedOptions[0]?.text ?? "";
    choices(find("basis"), BASES, view.basis);
    const { shot } = view.other === "signal" ? {} : side(view.other);
    find("own-label").hidden = !shot || shot === pick.shot || !shotOf(shot)?.frame || ["look", "grid"].includes(view.mode);
    find("own").checked = view.own;
    find("window").hidden = view.overlay !== "range";
    for (const [i, id] of ["window-low", "window-high"].entries()) {
        if (document.activeElement !== find(id)) find(id).value = view.window[i];
    }
    const eis = show.cameras.find((c) => c.name === pick.camera)?.eis ?? [];
    choices(find("ei"), eis.map((ei) => option(ei, ei)), view.ei);
    find("ei-label").hidden = eis.length === 0;
    choices(find("points"), [17, 33, 65].map((n) => option(n, n)), view.points);
    choices(find("screen"), SCREENS, view.screen);
    const frame = show.frames.find((f) => String(f.id) === pick.frame);
    choices(find("reading-as"), READINGS, view.reading ?? frame?.reads_as);
    find("reading-as").disabled = !frame || frame.id === LIVE;
});

function view() {
    for (const radio of document.querySelectorAll("[name=mode]")) {
        radio.addEventListener("change", () => {
            change({ mode: radio.value }, "view");
            compareSides();
        });
    }
    const asked = find("revision-label");
    const against = (other) => {
        change({ other, }, "view");
        change({ other: null, compare: null });
        bakeOther();
        compareSides();
    };
    find("other").addEventListener("change", (event) => {
        const { value } = event.target;
        asked.dataset.open = value === REVISION ? "yes" : "";
        if (value === REVISION) {
            change({});
            asked.hidden = false;
            find("revision").focus();
        } else against(value);
    });
    find("revision").addEventListener("change", (event) => {
        const revision = event.target.value.trim();
        if (revision) against(`${state.pick.look}@${revision}`);
    });
    const of = (id, key, read, then) => find(id).addEventListener("change", (event) => {
        change({ [key]: read(event.target.value) }, "view");
        then();
    });
    find("own").addEventListener("change", (event) => {
        change({ own: event.target.checked }, "view");
        bakeOther();
    });
    of("overlay", "overlay", String, bakeOverlay);
    of("basis", "basis", String, bakeOverlay);
    for (const [i, id] of ["window-low", "window-high"].entries()) {
        find(id).addEventListener("change", (event) => {
            const to = event.target.valueAsNumber;
            if (Number.isFinite(to)) change({ window: state.view.window.map((v, j) => (j === i ? to : v)) }, "view");
            bakeOverlay();
        });
    }
    of("ei", "ei", Number, () => { bakeOverlay(); readCurve(); });
    of("reading-as", "reading", String, readFrame);
    const again = () => { bakeLook(); bakeOther(); };
    of("points", "points", Number, again);
    of("screen", "screen", String, again);
}

// ------------------------------------------------------------------------------------------------ title, saving, undo

drawn(({ look, saved, errors, asksNote }) => {
    if (!look) return;
    document.title = `${look.unsaved ? "• " : ""}${look.title} · Rushlight preview`;
    const title = find("look-title");
    if (document.activeElement !== title) title.value = title.title = look.title;
    find("undo").disabled = !look.undo;
    find("redo").disabled = !look.redo;
    const file = look.file.split("/").at(-1);
    const stands = look.unsaved ? `${file}, revision ${look.revision}: not saved` : saved ? `${file}: ${saved.toLowerCase()}` : `${file}, revision ${look.revision}`;
    const asks = asksNote && look.unsaved;
    say(find("look-says"), asks ? "What is this version for? Note it, or save again without a note." : stands);
    find("look-says").title = find("look-says").textContent;
    find("look-says").classList.toggle("asks", asks);
    find("save").disabled = !look.unsaved;
    say(find("save-fault"), errors.save ?? "");
    say(find("look-fault"), errors.look ?? "");
    problems(look);
});

let told = null;

// Those that belong to no field; and of any, that the picture does not have it.
function problems(look) {
    if (same(told, look.problems)) return;
    told = look.problems;
    const lines = problemsOf(look)[""].map((words) => make("li", {}, words));
    const kept = make("li", {}, "The look has a mistake: the picture shows its last valid state, and nothing is saved until the mistake is corrected.");
    find("problems").replaceChildren(...(told.length ? [kept, ...lines] : []));
    find("problems").hidden = told.length === 0;
}

async function saveNow() {
    if (!state.look?.unsaved) return;
    const note = find("note");
    // Asked once; who saves again has no note.
    if (!note.value.trim() && !state.asksNote) {
        change({ asksNote: true });
        say(find("status"), "What is this version for? Note it, or save again without a note.");
        return void note.focus();
    }
    change({ asksNote: false });
    if (await save(note.value.trim())) {
        note.value = "";
        say(find("status"), state.saved);
    }
}

// Where the browser's own undo is of use: text that is still being typed.
function typing(target) {
    return target.matches("input:not([type=range],[type=radio],[type=checkbox],[type=number]), [data-typing], textarea");
}

function shortcuts(event) {
    if (shortcut(event)) return;
    if (!(event.ctrlKey || event.metaKey) || event.altKey) return;
    const key = event.key.toLowerCase();
    if (key === "s") {
        // What is being typed counts, though it has not been left yet.
        document.activeElement?.dispatchEvent(new Event("change"));
        saveNow();
    } else if (typing(event.target)) return;
    else if (key === "z") edit({ op: event.shiftKey ? "redo" : "undo" });
    else if (key === "y") edit({ op: "redo" });
    else return;
    event.preventDefault();
}

function saving() {
    find("undo").addEventListener("click", () => edit({ op: "undo" }));
    find("redo").addEventListener("click", () => edit({ op: "redo" }));
    find("look-title").addEventListener("change", (event) => {
        const title = event.target.value.trim();
        if (title && title !== state.look.title) edit({ op: "title", value: title });
        else event.target.value = state.look.title;
    });
    // Enter in the title takes the title; it saves nothing yet.
    find("look-title").addEventListener("keydown", (event) => {
        if (event.key !== "Enter") return;
        event.preventDefault();
        event.target.blur();
    });
    find("save-form").addEventListener("submit", (event) => {
        event.preventDefault();
        saveNow();
    });
    document.addEventListener("keydown", shortcuts);
}

// --------------------------------------------------------------------------------------------------- frames from files

let clip = null;

function take(file) {
    clip = isClip(file) ? file : null;
    find("clip").hidden = clip === null;
    if (clip === null) return void addFrame(file);
    say(find("clip-name"), file.name);
    find("clip-at").focus();
}

function frames() {
    const input = find("frame-file");
    find("add-frame").addEventListener("click", () => input.click());
    input.addEventListener("change", () => {
        if (input.files.length) take(input.files[0]);
        input.value = "";
    });
    // It stays, for another moment of the same clip.
    find("clip").addEventListener("submit", (event) => {
        event.preventDefault();
        addFrame(clip, find("clip-at").valueAsNumber || 0);
    });
    const close = () => {
        find("clip").hidden = true;
        clip = null;
        find("add-frame").focus();
    };
    find("clip-close").addEventListener("click", close);
    find("clip").addEventListener("keydown", (event) => event.key === "Escape" && close());
    const holds = (event) => event.dataTransfer?.types.includes("Files");
    document.addEventListener("dragover", (event) => {
        if (!holds(event)) return;
        event.preventDefault();
        find("drop").hidden = false;
    });
    document.addEventListener("dragleave", (event) => {
        if (event.relatedTarget === null) find("drop").hidden = true;
    });
    document.addEventListener("drop", (event) => {
        find("drop").hidden = true;
        if (!holds(event)) return;
        event.preventDefault();
        if (event.dataTransfer.files.length) take(event.dataTransfer.files[0]);
    });
}

export function begin() {
    picks();
    view();
    saving();
    frames();
}
