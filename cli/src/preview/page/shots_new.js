// A new shot of the frame in view: what it is called, what is noted of it, and where its correction goes.

import { choices, find, say } from "./dom.js";
import { isLive, newShot } from "./live.js";
import { Lost, post } from "./server.js";
import { change, drawn, fault, state } from "./state.js";
import { choose } from "./shots.js";
import { readShots } from "./work.js";

const text = (id) => find(id).value.trim();
const number = (id) => (find(id).value === "" ? null : find(id).valueAsNumber);

// The name is scene and take, unless another is typed.
let named = false;

function proposeName() {
    if (!named) find("new-name").value = [text("new-scene"), text("new-take")].filter(Boolean).join("-");
}

// What is done once the form is closed.
let after = null;

export function open(is, then = null) {
    find("new-shot").hidden = !is;
    find("shot-right").hidden = is;
    after?.();
    after = then;
    if (!is) return void find("shot-new").focus();
    named = false;
    if (state.view.ei) find("new-ei").value = state.view.ei;
    proposeName();
    // Chosen anew for each shot: the correction before may be of another light.
    find("new-from").checked = false;
    find("new-scene").select();
}

let sending = false;

async function make() {
    if (sending) return;
    sending = true;
    const { pick, view, frame } = state;
    const wanted = {
        name: text("new-name"), into: find("new-into").value, look: pick.look, camera: pick.camera, display: pick.display,
        frame: pick.frame, number: frame?.number ?? null, as: view.reading, from: find("new-from").checked ? pick.shot : null, ei: number("new-ei"),
        kelvin: number("new-kelvin"), tint: null, scene: text("new-scene"), take: text("new-take"), reel: text("new-reel"), timecode: text("new-timecode"), note: text("new-note"),
    };
    try {
        const made = await post("shots", wanted);
        fault("shots", null);
        await readShots();
        await choose(made.name);
        const left = made.not_noted?.length ? ` The list has no place for: ${made.not_noted.join(", ")}.` : "";
        change({ helped: `${made.name} is in ${made.file}.${made.stills?.length ? ` Stills: ${made.stills.join(", ")}.` : ""}${left}` });
        say(find("status"), state.helped);
        open(false);
        for (const id of ["new-take", "new-note", "new-timecode"]) find(id).value = "";
    } catch (error) {
        if (!(error instanceof Lost)) fault("shots", error.message);
    } finally {
        sending = false;
    }
}

drawn(({ shots, pick }) => {
    if (!shots) return;
    choices(find("new-into"), shots.into.map((file) => ({ value: file, label: file })), find("new-into").value || shots.into[0]);
    find("new-from").disabled = !pick.shot;
});

export function begin() {
    find("shot-new").addEventListener("click", () => {
        if (!find("new-shot").hidden) open(false);
        else if (isLive()) newShot();
        else open(true);
    });
    find("new-close").addEventListener("click", () => open(false));
    for (const id of ["new-scene", "new-take"]) find(id).addEventListener("input", proposeName);
    find("new-name").addEventListener("input", () => (named = true));
    find("new-shot").addEventListener("submit", (event) => {
        event.preventDefault();
        make();
    });
    find("new-shot").addEventListener("keydown", (event) => event.key === "Escape" && open(false));
}
