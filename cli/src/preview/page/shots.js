// The shots of the show: chosen, corrected, compared and saved. What the server holds of a shot is what is shown; edits go to it
// one after the other, each made upon the version that the one before gave.

import { choices, find, make, same, say, shortened, titled, together } from "./dom.js";
import { numberField, vectorField } from "./fields.js";
import { Lost, Refused, get, post } from "./server.js";
import { LIVE, change, drawn, fault, lower, raise, state } from "./state.js";
import { bakeOther, bakeOverlay, compareSides, frameOfShot, lookChanged, pick, readCurve, readShots, shotOf } from "./work.js";

const KEYS = ["slope", "offset", "power", "saturation"];
export const path = (name, more = "") => `shots/${encodeURIComponent(name)}${more}`;
export const listed = () => state.shots?.shots ?? [];

// ------------------------------------------------------------------------------------------------------------ edits

const waiting = [];
let busy = false;

export function edit(wanted) {
    // What was said of the action before is over.
    change({ helped: null });
    const last = waiting.at(-1);
    // Of a drag, the newest value only.
    if (last?.drag && last.drag === wanted.drag && last.key === wanted.key) waiting.pop();
    waiting.push({ ...wanted, shot: state.pick.shot });
    if (!busy) run();
}

async function run() {
    busy = true;
    while (waiting.length) await one(waiting.shift());
    busy = false;
}

async function one({ shot, ...body }) {
    if (!shot || shot !== state.shot?.name) return;
    try {
        take(await post(path(shot, "/edit"), { version: state.shot.version, ...body }));
        fault("shots", null);
    } catch (error) {
        if (error instanceof Lost) return void (waiting.length = 0);
        if (error instanceof Refused && error.status === 409) return void overtaken(shot);
        fault("shots", error.message);
        // The controls go back to what holds.
        change({});
    }
}

async function overtaken(shot) {
    waiting.length = 0;
    await readShot();
    raise({ id: "overtaken", words: `The shot ${shot} was changed elsewhere first. It is shown as it is now; do your last change again.`, choices: [] });
}

// A shot as the server holds it now.
export function take(shot) {
    if (shot.name !== state.pick.shot) return;
    const shots = listed().map((other) => (other.name === shot.name ? { ...other, ...shot } : other));
    change({ shot, shots: { ...state.shots, shots } });
    asked(shot);
    lookChanged();
}

// Edits that are not saved, upon a file that has changed since: whose is it to be?
function asked(shot) {
    if (!shot?.outside) return lower("shot-outside");
    raise({
        id: "shot-outside", grave: true,
        words: `${shot.file} has another correction of ${shot.name} now, and yours is not saved.`,
        choices: [
            { label: "Keep mine", act: () => edit({ op: "stay" }) },
            { label: "Take the file\u2019s", act: () => edit({ op: "revert" }) },
        ],
    });
}

export async function readShot() {
    const { shot } = state.pick;
    if (!shot) return change({ shot: null });
    try {
        const found = await get(path(shot));
        if (shot === state.pick.shot && !same(found, state.shot)) take(found);
    } catch (error) {
        if (!(error instanceof Lost)) fault("shots", error.message);
    }
}

// Another page, a file or the show changed shots.
export async function happened(event) {
    if (event.kind === "shot" && event.name === state.pick.shot && (busy || event.version <= state.shot?.version)) return;
    await readShots();
    await readShot();
}

// ---------------------------------------------------------------------------------------------------------- choosing

let before = null;

// The set-up that was chosen before this one, or the one before it in the list.
function lastSetUp() {
    const names = listed().map((shot) => shot.name);
    const at = names.indexOf(state.pick.shot);
    return names.includes(before) && before !== state.pick.shot ? before : names[at - 1] ?? null;
}

// What was chosen last, while it is on its way; undefined: nothing is.
let aim;
let going = null;

// The shot that is chosen, though it may not be in view yet.
export const aimed = () => (aim === undefined ? state.pick.shot : aim);

// Of many that are chosen one after the other, those between are passed over.
export function choose(name) {
    if (name !== null && !shotOf(name)) return going;
    aim = name;
    change({});
    going ??= follow();
    return going;
}

async function follow() {
    // Not before `going` is this.
    await null;
    try {
        while (aim !== state.pick.shot && (aim === null || shotOf(aim))) await goTo(aim);
    } finally {
        [aim, going] = [undefined, null];
        change({});
    }
}

async function goTo(name) {
    const shot = name === null ? null : shotOf(name);
    if (state.pick.shot) before = state.pick.shot;
    fault("shots", null);
    const values = { shot: name };
    for (const key of ["look", "camera"]) if (shot?.[key]) values[key] = shot[key];
    if (shot?.frame) {
        const frame = await readStill(shot);
        // A live picture goes on through the shot's correction; the shot's frame is in the list beside it.
        if (frame !== null && state.pick.frame !== LIVE) values.frame = frame;
    }
    if (aim !== name) return;
    change({ shot: null, helped: null });
    await pick(values);
    takeEi(shot);
    await readShot();
}

// The frame that the show has of a shot, among those that are shown: its id.
async function readStill({ name }) {
    try {
        const frame = await frameOfShot(name);
        await readFrames();
        return frame;
    } catch (error) {
        if (!(error instanceof Lost)) fault("shots", error.message);
        return null;
    }
}

// The frame of the chosen shot in place of what is in view.
async function seeStill() {
    const frame = await readStill(state.shot);
    if (frame !== null) await pick({ frame });
}

// Whether the show has a frame of a shot, and another one is in view.
const hasStill = ({ shot, show, pick: { frame } }) => Boolean(shot?.frame) && show.frames.find((f) => String(f.id) === frame)?.name !== shot.frame;

// The exposure index that a shot was exposed at becomes that of the page, where the camera is rated at it.
export function takeEi(shot) {
    const eis = state.show.cameras.find((camera) => camera.name === state.pick.camera)?.eis ?? [];
    if (!eis.includes(shot?.ei) || state.view.ei === shot.ei) return;
    change({ ei: shot.ei }, "view");
    bakeOverlay();
    readCurve();
}

async function readFrames() {
    const show = await get("state");
    change({ frames: show.frames }, "show");
}

function against(name) {
    if (!name) return;
    change({ other: `shot:${name}@now`, mode: state.view.mode === "look" ? "divide" : state.view.mode }, "view");
    change({ other: null, compare: null });
    bakeOther();
    compareSides();
}

function copy(from) {
    const isSame = same(shotOf(from)?.numbers, state.shot.numbers);
    edit({ op: "copy", from });
    change({ helped: isSame ? `The numbers of ${from} are the same already.` : `These are the numbers of ${from}.` });
}

// ------------------------------------------------------------------------------------------------------------ saving

export async function save(anyway = false) {
    while (busy) await new Promise((done) => setTimeout(done, 5));
    const { shot, pick: { look, camera, display } } = state;
    if (!shot) return;
    try {
        const saved = await post(path(shot.name, "/save"), { version: shot.version, look, camera, display, anyway });
        fault("shots", saved.not_baked ? `Saved into ${saved.file}, but its cube was not baked: ${saved.not_baked}` : null);
        lower("shot-conflict");
        change({ helped: savedWords(saved) });
        take(saved);
        say(find("status"), state.helped);
        for (const words of saved.warnings ?? []) raise({ id: "shot-order", words, choices: [] });
    } catch (error) {
        if (error instanceof Refused && error.status === 409 && "disk" in error.body) unsavable(error);
        else if (error instanceof Refused && error.status === 409) overtaken(shot.name);
        else if (!(error instanceof Lost)) fault("shots", error.message);
    }
}

// The folder once, then the cubes.
export const bakedWords = (baked) => (baked?.length ? ` In ${shortened(state.shots.out)}: ${together(baked)}.` : "");

const savedWords = ({ file, baked }) => `Saved into ${file}.${bakedWords(baked)}`;

function unsavable(error) {
    const { disk } = error.body;
    const choices = [{ label: "Do not save", act: () => lower("shot-conflict") }];
    if (disk) choices.push({ label: "Write mine over it", act: () => save(true) });
    raise({ id: "shot-conflict", grave: true, words: `Not saved: ${error.message}.`, choices });
}

// ----------------------------------------------------------------------------------------------------------- drawing

let fields = null;
let built = null;

// The four numbers by the same description as the step `cdl`; their space is the show's.
function build() {
    const kind = state.show.kinds.find((k) => k.do === "cdl");
    const key = JSON.stringify([kind?.fields, state.shots?.space]);
    if (!kind || built === key) return;
    built = key;
    fields = KEYS.map((name) => {
        const field = { ...kind.fields.find((f) => f.key === name), help: HELP[name] };
        if (name === "offset") field.unit = state.shots?.space ?? "";
        const set = (value, drag) => edit({ op: "set", key: name, value, ...(drag ? { drag } : {}) });
        const one = (name === "saturation" ? numberField : vectorField)(field, `shot-${name}`, set);
        const unit = field.unit ? make("span", { class: "unit" }, ` ${field.unit}`) : null;
        const node = make("div", { class: "field", "data-field": name, role: "group", "aria-label": field.label }, make("div", { class: "head" }, make("span", { class: "name" }, titled(field.label)), unit), one.node);
        return { name, node, update: one.update };
    });
    find("shot-fields").replaceChildren(...fields.map(({ node }) => node));
}

const HELP = {
    slope: "What comes in is multiplied by this, per channel.",
    offset: "This is added after the slope, per channel.",
    power: "The sum is raised to this power, per channel.",
    saturation: "0 is monochrome, 1 leaves the picture as it is.",
};

// The note first: what else is cut off at the end is in the title of the line.
export const notes = (shot) => [
    shot.note, shot.scene && `scene ${shot.scene}`, shot.take && `take ${shot.take}`, shot.ei && `EI ${shot.ei}`, shot.white?.kelvin && `${shot.white.kelvin} K`, shot.reel && `reel ${shot.reel}`, shot.timecode, shot.file,
].filter(Boolean).join(" \u00b7 ");

drawn(({ shots, shot, show, errors, helped, layout, pick }) => {
    find("save-form").hidden = layout.tab === "shots";
    const stands = shot && (shot.unsaved ? `Not saved: ${shot.words}` : "Saved");
    say(find("shot-says"), layout.tab === "shots" ? helped ?? stands ?? "" : "");
    find("shot-says").title = find("shot-says").textContent;
    if (!shots || !show) return;
    build();
    say(find("shots-fault"), errors.shots ?? "");
    say(find("shots-says"), `${shots.grading}.${shots.out ? ` Cubes go into ${shots.out} at each save.` : ""}`);
    find("shot-work").hidden = !shot;
    find("shot-new").disabled = shots.into.length === 0;
    say(find("shot-hint"), shot ? "" : listed().length ? "Choose a shot to correct it." : "The show has no shots yet. Make one of the frame in view.");
    if (!shot) return;
    for (const { name, update } of fields ?? []) update(shot.numbers[name], false);
    say(find("shot-name"), shot.name);
    say(find("shot-notes"), notes(shot));
    find("shot-notes").title = notes(shot);
    find("shot-still").hidden = !hasStill({ shot, show, pick });
    find("shot-undo").disabled = !shot.undo;
    find("shot-redo").disabled = !shot.redo;
    find("shot-save").disabled = !shot.unsaved && !shots.out;
    const last = lastSetUp();
    for (const id of ["shot-copy", "shot-against"]) find(id).disabled = !last;
    find("shot-copy").title = last ? `The numbers of ${last}` : "No set-up before this one";
    const versions = (shot.versions ?? []).map((v, i) => ({ value: String(i), label: `${i + 1}: ${v.words}` }));
    choices(find("shot-versions"), versions.reverse(), String(shot.at ?? 0));
});

// --------------------------------------------------------------------------------------------------------------- keys

// Control with Z, Y and S act on the shot while its tab is open. Whether they did.
export function shortcut(event) {
    if (state.layout.tab !== "shots" || !state.shot || !(event.ctrlKey || event.metaKey) || event.altKey) return false;
    const key = event.key.toLowerCase();
    if (key === "s") {
        document.activeElement?.dispatchEvent(new Event("change"));
        save();
    } else if (key === "z") edit({ op: event.shiftKey ? "redo" : "undo" });
    else if (key === "y") edit({ op: "redo" });
    else return false;
    event.preventDefault();
    return true;
}

export const through = () => ({ look: state.pick.look, camera: state.pick.camera, display: state.pick.display });

// A helper writes slope or offset in the show's space, and what it wrote is said.
export async function help(wanted) {
    edit({ ...wanted, ...through() });
    while (busy) await new Promise((done) => setTimeout(done, 5));
    if (state.shot?.said) change({ helped: state.shot.said });
}

export function begin() {
    const click = (id, act) => find(id).addEventListener("click", act);
    const plainly = (op) => () => edit({ op });
    click("shot-undo", plainly("undo"));
    click("shot-redo", plainly("redo"));
    click("shot-reset", plainly("reset"));
    click("shot-save", () => save());
    click("shot-still", seeStill);
    click("shot-copy", () => copy(lastSetUp()));
    click("shot-against", () => against(lastSetUp()));
    find("shot-versions").addEventListener("change", (event) => edit({ op: "go", at: Number(event.target.value) }));
}
