// What is noted of the chosen shot, and its name, to be changed: it is written into the shot's entry in the show.

import { find, make, say } from "./dom.js";
import { Lost, post } from "./server.js";
import { change, drawn, fault, state } from "./state.js";
import { path, take, takeEi } from "./shots.js";
import { askToDelete, makeEntry, rename } from "./shots_manage.js";
import { shotOf } from "./work.js";

const FIELDS = [["scene", "Scene"], ["take", "Take"], ["reel", "Reel"], ["timecode", "Timecode"], ["ei", "Exposure index"], ["kelvin", "White of the camera, K"], ["note", "Note"]];
// Of those that are numbers.
const NUMBERS = { ei: { min: 1, step: "any" }, kelvin: { min: 1700, max: 25000, step: "any" } };

const field = (key) => find(`noted-${key}`);

let of = null;

function open(is) {
    find("notes-form").hidden = !is;
    find("shot-notes-edit").setAttribute("aria-expanded", is);
    of = is ? state.shot?.name : null;
    if (!is) return;
    field("name").value = state.shot.name;
    for (const [key] of FIELDS) field(key).value = (key === "kelvin" ? state.shot.white?.kelvin : state.shot[key]) ?? "";
    drawOwn();
    field(isOfList() ? "own" : "scene").focus();
}

// It comes from a list, which has no place for notes.
const isOfList = () => Boolean(shotOf(of)?.of_list);

async function write() {
    if (isOfList()) return;
    const values = Object.fromEntries(FIELDS.map(([key]) => [key, field(key).value.trim() || null]));
    for (const key of Object.keys(NUMBERS)) values[key] = values[key] === null ? null : Number(values[key]);
    const [name, to] = [of, field("name").value.trim()];
    let renamed = null;
    if (to && to !== name) {
        // Meanwhile the form is of neither.
        of = null;
        const isDone = await rename(to);
        of = isDone ? to : name;
        if (!isDone) return;
        renamed = state.helped;
    }
    try {
        const shot = await post(path(of, "/notes"), values);
        fault("shots", null);
        change({ helped: renamed ?? "The notes are in the show." });
        say(find("status"), state.helped);
        open(false);
        take(shot);
        takeEi(shot);
        find("shot-notes-edit").focus();
    } catch (error) {
        if (!(error instanceof Lost)) fault("shots", error.message);
    }
}

async function own() {
    if (!(await makeEntry())) return;
    change({ helped: `${of} has an entry in the show.` });
    drawOwn();
    field("scene").focus();
}

// The fields are for writing once there is where to write to.
function drawOwn() {
    const isListed = isOfList();
    find("notes-of-list").hidden = !isListed;
    if (isListed) say(find("notes-of-list-says"), `${of} comes from the list ${shotOf(of).file}: notes need an entry of its own in the show.`);
    for (const key of ["name", ...FIELDS.map(([key]) => key), "write"]) field(key).disabled = isListed;
}

drawn(({ shot }) => {
    if (of === null) return;
    // Another shot is chosen: its notes are not those in the fields.
    if (shot && shot.name !== of) open(false);
    else drawOwn();
});

export function begin() {
    const form = find("notes-form");
    const input = (key) => make("input", { id: `noted-${key}`, type: NUMBERS[key] ? "number" : "text", autocomplete: "off", ...(NUMBERS[key] ?? { maxlength: 200 }) });
    const small = (label, onclick, more) => make("button", { type: "button", class: "small", onclick, ...more }, label);
    form.append(
        make("p", { id: "notes-of-list", class: "all", hidden: true }, make("span", { id: "notes-of-list-says" }), " ", small("Make the entry", own, { id: "noted-own" })),
        ...[["name", "Name of the shot"], ...FIELDS].map(([key, label]) => make("label", { class: key === "note" ? "wide" : null }, label, input(key))),
        make("div", { class: "row" }, make("button", { class: "small", id: "noted-write" }, "Write the notes"), small("Delete the shot\u2026", askToDelete, { id: "noted-delete" }), small("Close", () => open(false))));
    form.addEventListener("submit", (event) => {
        event.preventDefault();
        write();
    });
    form.addEventListener("keydown", (event) => event.key === "Escape" && open(false));
    find("shot-notes-edit").addEventListener("click", () => open(form.hidden));
}
