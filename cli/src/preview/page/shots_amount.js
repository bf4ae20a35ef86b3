// Exposure and white of the chosen shot: what its correction amounts to, whatever it is made of, and other amounts. Where it has
// none, since it comes after the look, the same fields add to it.

import { find, plain, rounded, say } from "./dom.js";
import { Lost, get, newest } from "./server.js";
import { change, drawn, fault, state } from "./state.js";
import { help, path, through } from "./shots.js";

const read = newest(async (of) => {
    const { name, version, ...asked } = of;
    try {
        change({ amount: { ...(await get(path(name, "/amount"), asked)), of } });
    } catch (error) {
        if (!(error instanceof Lost)) fault("shots", error.message);
    }
});

let asked = null;

// Of which shot an amount is, and through what it is seen.
const now = ({ shot }) => ({ name: shot.name, version: shot.version, ...through() });

const isOf = (amount, { shot }) => shot !== null && amount?.of.name === shot.name;

// It has none that could be set.
const isAdding = ({ amount, shot }) => isOf(amount, { shot }) && amount.stops === null;

// A white next to that of the page is none: nothing is made neutral.
const D65 = 6504;
const hasWhite = ({ kelvin, tint }) => kelvin !== null && (Math.abs(1e6 / kelvin - 1e6 / D65) > 0.5 || Math.abs(tint) > 0.25);

const show = (id, text) => {
    const field = find(id);
    if (!field.hasAttribute("data-typing") && field.value !== text) field.value = text;
};

drawn((all) => {
    const { shot, amount, layout } = all;
    if (!shot || layout.tab !== "shots") return;
    const of = now(all);
    const key = JSON.stringify(of);
    if (key !== asked) {
        asked = key;
        read(of);
    }
    const adds = isAdding(all);
    say(find("shot-exposure-label"), adds ? "Add, stops" : "Exposure, stops");
    say(find("shot-kelvin-label"), adds ? "Add white, K" : "White, K");
    for (const id of ["shot-exposure-add", "shot-white-add"]) find(id).hidden = !adds;
    if (adds) return;
    // Never that of another shot.
    const known = isOf(amount, all) ? amount : { stops: null, kelvin: null, tint: null };
    const white = hasWhite(known) ? known : { kelvin: null, tint: null };
    show("shot-exposure", known.stops === null ? "" : rounded(Number(known.stops.toFixed(2))));
    show("shot-kelvin", white.kelvin === null ? "" : plain(white.kelvin, 0));
    show("shot-tint", white.tint === null ? "" : rounded(Number(white.tint.toFixed(1))));
    find("shot-exposure").title = known.stops === null ? "" : `A grey card ${plain(known.stops)} stops too dark becomes mid-grey. Enter sets it.`;
});

const value = (id) => (find(id).value === "" ? null : find(id).valueAsNumber);

function expose() {
    const stops = value("shot-exposure");
    if (stops === null || !Number.isFinite(stops)) return void change({});
    if (isAdding(state)) help({ op: "exposure", stops });
    else help({ op: "amount", stops });
}

function whiten() {
    const [kelvin, tint] = [value("shot-kelvin"), value("shot-tint")];
    if (kelvin === null || !Number.isFinite(kelvin)) return void change({});
    if (isAdding(state)) help({ op: "white", kelvin, tint });
    else help({ op: "amount", kelvin, tint });
}

export function begin() {
    for (const [id, act] of [["shot-exposure", expose], ["shot-kelvin", whiten], ["shot-tint", whiten]]) {
        const field = find(id);
        const typing = (is) => field.toggleAttribute("data-typing", is);
        field.addEventListener("input", () => typing(true));
        field.addEventListener("change", () => {
            // Where it is added it waits for its button or for Enter, or each step of the field would add once more.
            if (!field.hasAttribute("data-typing") || isAdding(state)) return;
            typing(false);
            act();
        });
        field.addEventListener("keydown", (event) => {
            if (event.key === "Escape") {
                typing(false);
                change({});
            }
            if (event.key !== "Enter" || !isAdding(state)) return;
            typing(false);
            act();
        });
    }
    const click = (id, act) => find(id).addEventListener("click", act);
    click("shot-exposure-add", expose);
    click("shot-white-add", whiten);
    const steps = (by) => () => help({ op: "exposure", stops: by * (value("shot-step") || 0) });
    click("shot-up", steps(1));
    click("shot-down", steps(-1));
}
