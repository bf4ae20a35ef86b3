// The list of shots: found by their notes, chosen by pointer and by keys.

import { find, make } from "./dom.js";
import { aimed, choose, listed, notes } from "./shots.js";
import { change, drawn, state } from "./state.js";

function shown() {
    const words = find("shots-find").value.trim().toLowerCase();
    return listed().filter((shot) => [shot.name, shot.note, shot.reel, shot.scene].some((text) => text?.toLowerCase().includes(words)));
}

// All that a key can lead to: none first.
const rungs = () => [null, ...shown().map((shot) => shot.name)];

export function step(by) {
    const names = rungs();
    const at = names.indexOf(aimed());
    const to = at < 0 ? 1 : at + by;
    if (to in names) choose(names[to]);
}

// A new shot must be seen, whatever was looked for.
export function findNothing() {
    find("shots-find").value = "";
    change({});
}

const words = (shot, old) => [[shot.look, shot.camera].filter(Boolean).join(", "), old.has(shot.name) && "old cube"].filter(Boolean).join(" \u00b7 ");

let rows = null;

drawn(({ shots, show, cubes }) => {
    if (!shots || !show) return;
    const list = shown();
    const old = new Set((cubes?.old ?? []).map((one) => one.shot));
    const now = aimed();
    const key = JSON.stringify([list.map((s) => [s.name, s.unsaved, notes(s), words(s, old)]), now, listed().length]);
    if (rows === key) return;
    rows = key;
    const none = make("li", { role: "option", id: "shot-none", "aria-selected": String(now === null), onclick: () => choose(null) }, "No shot: the look alone");
    const row = (shot, i) => make("li", {
        role: "option", id: `shot-row-${i}`, "data-shot": shot.name, "aria-selected": String(shot.name === now), title: notes(shot), onclick: () => choose(shot.name),
    }, make("span", { class: "name" }, `${shot.unsaved ? "\u2022 " : ""}${shot.name}`), make("span", { class: "says" }, words(shot, old)));
    const missed = listed().length && !list.length ? make("li", { role: "option", "aria-disabled": "true", id: "shot-missed", class: "says" }, "No shot is found") : null;
    const box = find("shots");
    box.replaceChildren(...[none, missed, ...list.map(row)].filter(Boolean));
    const chosen = box.querySelector("[aria-selected=true]");
    box.setAttribute("aria-activedescendant", chosen?.id ?? "shot-none");
    chosen?.scrollIntoView({ block: "nearest" });
});

function listKeys(event) {
    const by = { ArrowDown: 1, ArrowUp: -1 }[event.key];
    const end = { Home: 0, End: -1 }[event.key];
    if (by === undefined && end === undefined) return;
    event.preventDefault();
    if (by) step(by);
    else choose(rungs().at(end));
}

// From what is looked for to what was found.
function findKeys(event) {
    if (event.key !== "ArrowDown" && event.key !== "Enter") return;
    event.preventDefault();
    const found = shown();
    if (!found.length) return;
    find("shots").focus();
    if (!found.some((shot) => shot.name === state.pick.shot)) choose(found[0].name);
}

export function begin() {
    find("shots").addEventListener("keydown", listKeys);
    find("shots-find").addEventListener("input", () => change({}));
    find("shots-find").addEventListener("keydown", findKeys);
}
