// Cubes in the folder that a box reads which are of an older look or correction: which shots have them, and one button that bakes
// them anew.

import { find, say, shortened, together } from "./dom.js";
import { Lost, get, newest, post } from "./server.js";
import { change, drawn, fault, state } from "./state.js";

const read = newest(async () => {
    try {
        change({ cubes: await get("cubes") });
    } catch (error) {
        if (!(error instanceof Lost)) fault("shots", error.message);
    }
});

let baking = false;

async function bake() {
    baking = true;
    change({});
    try {
        const { baked, out } = await post("cubes", {});
        change({ cubes: await get("cubes"), helped: baked.length ? `In ${shortened(out)}: ${together(baked)}.` : "Every cube is of now." });
        say(find("status"), state.helped);
        fault("shots", null);
    } catch (error) {
        if (!(error instanceof Lost)) fault("shots", error.message);
    } finally {
        baking = false;
        change({});
    }
}

// What they rest on: looks as they are saved, corrections as they are in their files.
let of = null;

drawn(({ show, shots, layout, cubes }) => {
    if (!show || !shots) return;
    const now = JSON.stringify([show.looks.map(({ name, revision }) => [name, revision]), shots.shots.map(({ name, saved, look, camera }) => [name, saved, look, camera])]);
    if (layout.tab === "shots" && shots.out && of !== now) {
        of = now;
        read();
    }
    const old = cubes?.old ?? [];
    const names = [...new Set(old.map((one) => one.shot))];
    find("shots-old").hidden = names.length === 0;
    if (!names.length) return;
    say(find("shots-old-says"), `Old cubes: ${names.length === 1 ? names[0] : `${names.length} shots`}`);
    find("shots-old-says").title = `${old.map(({ file, why }) => `${file}: ${why}`).join("\n")}\nin ${cubes.out}. They stay; those of now come beside them, or in their place.`;
    say(find("shots-old-bake"), baking ? "Baking\u2026" : "Bake");
    find("shots-old-bake").disabled = baking;
});

export function begin() {
    find("shots-old-bake").addEventListener("click", bake);
}
