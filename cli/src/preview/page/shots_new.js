// A new shot of the frame in view: what it is called, what is noted of it, and where its correction goes.

import { choices, find, say, together } from "./dom.js";
import { newShot } from "./live.js";
import { Lost, post } from "./server.js";
import { change, drawn, fault, state } from "./state.js";
import { bakedWords, choose } from "./shots.js";
import { findNothing } from "./shots_list.js";
import { eiOf, readShots } from "./work.js";

const text = (id) => find(id).value.trim();
const number = (id) => (find(id).value === "" ? null : find(id).valueAsNumber);

// The name is scene and take, unless another is typed.
let named = false;

function proposeName() {
    if (!named) find("new-name").value = [text("new-scene"), text("new-take")].filter(Boolean).join("-");
}

// Reel and white are those of the camera's last shot, never another camera's.
const last = {};
let filled = null;

function fill() {
    const { camera } = state.pick;
    if (filled === camera) return;
    filled = camera;
    const { reel = "", kelvin = "" } = last[camera] ?? {};
    find("new-reel").value = reel;
    find("new-kelvin").value = kelvin;
    find("new-ei").value = eiOf(camera) ?? "";
}

// The form is to be typed into as soon as it is in sight.
let begins = false;

// What is done once the form is closed.
let after = null;

export function open(is, then = null) {
    find("new-shot").hidden = !is;
    find("shot-right").hidden = is;
    after?.();
    after = then;
    if (!is) return void find("shot-new").focus();
    named = false;
    filled = null;
    fill();
    proposeName();
    // Chosen anew for each shot: the correction before may be of another light.
    find("new-from").checked = false;
    begins = true;
    change({});
}

let sending = false;

async function make() {
    if (sending) return;
    sending = true;
    change({});
    const { pick, view, frame } = state;
    const wanted = {
        name: text("new-name"), into: find("new-into").value, look: pick.look, camera: pick.camera, display: pick.display,
        frame: pick.frame, number: frame?.number ?? null, as: view.reading, from: find("new-from").checked ? pick.shot : null, ei: number("new-ei"),
        kelvin: number("new-kelvin"), tint: null, scene: text("new-scene"), take: text("new-take"), reel: text("new-reel"), timecode: text("new-timecode"), note: text("new-note"),
    };
    try {
        const made = await post("shots", wanted);
        fault("shots", null);
        last[wanted.camera] = { reel: wanted.reel, kelvin: find("new-kelvin").value };
        findNothing();
        await readShots();
        await choose(made.name);
        const left = made.not_noted?.length ? ` The list has no place for: ${made.not_noted.join(", ")}.` : "";
        const notBaked = made.not_baked ? ` Its cube was not baked: ${made.not_baked}.` : "";
        change({ helped: `${made.name} is in ${made.file}.${made.stills?.length ? ` Stills: ${together(made.stills)}.` : ""}${bakedWords(made.baked)}${notBaked}${left}` });
        say(find("status"), state.helped);
        open(false);
        for (const id of ["new-take", "new-note", "new-timecode"]) find(id).value = "";
    } catch (error) {
        if (!(error instanceof Lost)) fault("shots", error.message);
    } finally {
        sending = false;
        change({});
    }
}

drawn(({ shots, pick, show }) => {
    if (!shots || !show) return;
    const isOpen = !find("new-shot").hidden;
    if (isOpen) fill();
    find("new-make").disabled = sending;
    say(find("new-make"), sending ? "Making\u2026" : "Make the shot");
    const frame = show.frames.find((f) => String(f.id) === pick.frame);
    say(find("new-of"), frame ? `New shot from the frame in view: ${frame.name}` : "New shot without a frame");
    if (isOpen && begins) {
        begins = false;
        // After all is drawn: a tab that was not chosen until now is in sight only then.
        queueMicrotask(() => {
            find("new-scene").focus();
            find("new-scene").select();
        });
    }
    choices(find("new-into"), shots.into.map((file) => ({ value: file, label: file })), find("new-into").value || shots.into[0]);
    find("new-from").disabled = !pick.shot;
});

export function begin() {
    find("shot-new").addEventListener("click", () => {
        if (!find("new-shot").hidden) open(false);
        else newShot();
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
