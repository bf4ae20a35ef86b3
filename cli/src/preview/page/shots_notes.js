// What is noted of the chosen shot, to be changed: it is written into the shot's entry in the show.

import { find, make, say } from "./dom.js";
import { Lost, post } from "./server.js";
import { change, drawn, fault, state } from "./state.js";
import { take, takeEi } from "./shots.js";

const FIELDS = [["scene", "Scene"], ["take", "Take"], ["reel", "Reel"], ["timecode", "Timecode"], ["ei", "Exposure index"], ["note", "Note"]];

const field = (key) => find(`noted-${key}`);

let of = null;

function open(is) {
    find("notes-form").hidden = !is;
    find("shot-notes-edit").setAttribute("aria-expanded", is);
    of = is ? state.shot?.name : null;
    if (!is) return;
    for (const [key] of FIELDS) field(key).value = state.shot[key] ?? "";
    field("scene").focus();
}

async function write() {
    const values = Object.fromEntries(FIELDS.map(([key]) => [key, field(key).value.trim() || null]));
    values.ei = values.ei === null ? null : Number(values.ei);
    try {
        const shot = await post(`shots/${encodeURIComponent(of)}/notes`, values);
        fault("shots", null);
        change({ helped: "The notes are in the show." });
        say(find("status"), state.helped);
        open(false);
        take(shot);
        takeEi(shot);
        find("shot-notes-edit").focus();
    } catch (error) {
        if (!(error instanceof Lost)) fault("shots", error.message);
    }
}

// Another shot is chosen: its notes are not those in the fields.
drawn(({ shot }) => {
    if (of !== null && shot?.name !== of) open(false);
});

export function begin() {
    const form = find("notes-form");
    form.append(
        ...FIELDS.map(([key, label]) => make("label", { class: key === "note" ? "wide" : null }, label,
            make("input", { id: `noted-${key}`, type: key === "ei" ? "number" : "text", autocomplete: "off", ...(key === "ei" ? { min: 1, step: "any" } : { maxlength: 200 }) }))),
        make("div", { class: "row" }, make("button", { class: "small" }, "Write the notes"), make("button", { type: "button", class: "small", onclick: () => open(false) }, "Close")));
    form.addEventListener("submit", (event) => {
        event.preventDefault();
        write();
    });
    form.addEventListener("keydown", (event) => event.key === "Escape" && open(false));
    find("shot-notes-edit").addEventListener("click", () => open(form.hidden));
}
