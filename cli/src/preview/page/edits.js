// Changes of the look: one after the other, each made upon the version that the one before gave.

import { same, titled } from "./dom.js";
import { Lost, Refused, get, post } from "./server.js";
import { change, fault, lower, raise, state } from "./state.js";
import { everything, lookChanged, readLook, readShots, readShow, readWorst, settle, settleView } from "./work.js";

const waiting = [];
let busy = false;

// Where a refusal of an edit is shown: at its field, or under the steps.
export const place = ({ op, step, key }) => (op === "set" ? `field ${step} ${key}` : /held|^hold/.test(op) ? "versions" : "steps");

const PROBLEM = /: step\[(\d+)\]\.([\w.]+)(?:\[\d+\])?: (.*)$/;

// What the document says wrong, by the field that it belongs to; what belongs to none, under "".
export function problemsOf(look) {
    const found = { "": [] };
    for (const words of look?.problems ?? []) {
        const [, step, key, why] = PROBLEM.exec(words) ?? [];
        const known = step && state.show.kinds.find((k) => k.do === look.steps[step]?.do)?.fields.some((f) => f.key === key);
        if (known) found[place({ op: "set", step: Number(step), key })] = titled(why);
        else found[""].push(words);
    }
    return found;
}

// Of a drag, the newest value only.
function queue(wanted) {
    const last = waiting.at(-1);
    const follows = last && last.op === "set" && wanted.op === "set" && last.step === wanted.step && last.key === wanted.key;
    if (follows && last.drag === wanted.drag) waiting.pop();
    waiting.push(wanted);
}

export function edit(wanted) {
    queue({ ...wanted, look: state.pick.look });
    if (!busy) run();
}

// Until every edit was answered.
export async function allDone() {
    while (busy) await new Promise((done) => setTimeout(done, 5));
}

async function run() {
    busy = true;
    while (waiting.length) await one(waiting.shift());
    busy = false;
}

async function one({ look, ...body }) {
    if (look !== state.look?.name) return;
    try {
        take(await post(`looks/${encodeURIComponent(look)}/edit`, { version: state.look.version, ...body }));
        fault(place(body), null);
        fault("save", null);
    } catch (error) {
        if (error instanceof Lost) return void (waiting.length = 0);
        if (error instanceof Refused && error.status === 409) return void overtaken(error);
        fault(place(body), error.message);
        // The controls go back to what holds; a field keeps what was typed, beside the reason.
        change({});
    }
}

// Another page, or the file, was first: theirs is shown, and what was about to be done is not done.
function overtaken(error) {
    waiting.length = 0;
    if (error.body.look) take(error.body.look);
    else readLook().then(lookChanged);
    raise({ id: "overtaken", words: "This look was changed elsewhere first. It is shown as it is now; do your last change again.", choices: [] });
}

// A look as the server holds it now.
export function take(look) {
    if (look.name !== state.pick.look) return;
    change({ look });
    marked(look);
    if (look.left) left(look);
    else lower("left");
    away();
    lookChanged();
}

// The list of looks says which have changes that are not saved.
function marked({ name, unsaved, title, revision, left }) {
    const looks = state.show.looks.map((l) => (l.name === name ? { ...l, unsaved, title, revision, left: Boolean(left) } : l));
    change({ looks }, "show");
}

// Another page or a file changed a look.
export async function happened(event) {
    const ours = event.name === state.pick.look;
    if (event.kind === "worst") return void (ours && readWorst());
    if (event.kind === "show" || event.kind === "all") return showChanged(event.problems);
    if (event.kind === "look" && !ours) return void readShow();
    if (!ours || busy || (event.kind === "look" && event.version <= state.look.version)) return;
    const look = await get(`looks/${encodeURIComponent(event.name)}`);
    if (look.name !== state.pick.look || busy) return;
    if (event.kind === "outside") outside(look, event);
    if (look.version >= state.look.version && !same(look, state.look)) take(look);
}

// The show's own file, or one that it or a look names, changed.
async function showChanged(problems) {
    if (problems) return void raise({ id: "show", grave: true, words: `The show changed on disk, and cannot be read: ${problems}`, choices: [] });
    lower("show");
    const show = await readShow();
    await readShots();
    change({ pick: settle(state.pick, show) });
    change(settleView(state.view, show, state.pick), "view");
    await readLook();
    asked(state.look);
    everything();
}

const words = (list) => (list?.length ? `: ${list.join("; ")}` : "");

const fileOf = (look) => look.file.split("/").at(-1);

function outside(look, event) {
    if (event.conflict) return void asked(look);
    raise({ id: "outside", words: `${fileOf(look)} changed on disk, and is shown as it is now${words(event.words)}.`, choices: [] });
}

// Looks with edits that are not saved, which the show does not have any more.
function away() {
    const looks = state.show.looks.filter((l) => l.away);
    if (!looks.length) return lower("away");
    const named = looks.map((l) => `\u201c${l.title}\u201d`).join(", ");
    const said = looks.length === 1 ? `The look ${named} is not in the show any more. Its` : `The looks ${named} are not in the show any more. Their`;
    raise({ id: "away", grave: true, words: `${said} unsaved edits stay here until you save or undo them.`, choices: [] });
}

// What stands on the disk under edits that are not saved: whose is it to be? And edits that an earlier server left.
export function asked(look) {
    away();
    if (look?.left) left(look);
    else lower("left");
    if (!look?.outside) return;
    conflict(`${fileOf(look)} changed on disk, and you have changes that are not saved${words(look.outside)}.`, "Keep mine");
}

function left({ left: { same, changes, file }, ...look }) {
    const made = `Edits of ${fileOf(look)} were not saved when the preview ended`;
    const said = same ? `${made}${words(changes)}.`
        : `${made}, and the file has changed since. Against the file as it is now they are${words(changes)}. They are stored in ${file}.`;
    raise({
        id: "left",
        grave: true,
        words: said,
        choices: [
            { label: same ? "Put them back" : "Put them back anyway", act: () => edit({ op: "take_left" }) },
            { label: "Discard them", act: () => edit({ op: "drop_left" }) },
        ],
    });
}

function conflict(said, keep, more = []) {
    raise({
        id: "conflict",
        grave: true,
        words: said,
        choices: [
            { label: keep, act: () => lower("conflict") },
            { label: "Take the file\u2019s", act: () => { lower("conflict"); edit({ op: "revert" }); } },
            ...more,
        ],
    });
}

// Writes the look; never over a file that changed, unless told to.
export async function save(note, anyway = false) {
    await allDone();
    const { name, version } = state.look;
    try {
        const look = await post(`looks/${encodeURIComponent(name)}/save`, { version, note, anyway });
        fault("save", null);
        lower("conflict");
        lower("outside");
        take(look);
        change({ saved: `Saved as revision ${look.revision}` });
        return true;
    } catch (error) {
        if (error instanceof Refused && error.status === 409) unsavable(error, note);
        else if (!(error instanceof Lost)) fault("save", error.message);
        return false;
    }
}

function unsavable(error, note) {
    const { disk } = error.body;
    if (disk === undefined) return void overtaken(error);
    const said = disk === null ? "Not saved: the file is not on the disk any more."
        : `Not saved: the file on disk is now \u201c${disk.title}\u201d, revision ${disk.revision}${words(disk.changes)}.`;
    conflict(said, "Do not save", [{ label: "Write mine over it", act: () => save(note, true) }]);
}
