// The picture alone: what it is of, in a thin line while the pointer moves, or for as long as a key says.

import { find, say } from "./dom.js";
import { change, drawn, state } from "./state.js";
import { camera, display } from "./work.js";

// Milliseconds that the line stays after the pointer came to rest.
const STAYS = 2000;

let kept = false;
let moved = false;
let resting = null;

export function keepLine() {
    if (!state.layout.alone) return;
    [kept, moved] = [!(kept || moved), false];
    change({});
}

function words({ pick, view, look, show }) {
    const frame = show.frames.find((f) => String(f.id) === pick.frame)?.name;
    const ei = view.ei === null ? "not rated" : `EI ${view.ei}`;
    const nudged = view.nudge ? "nudged for viewing" : null;
    return [pick.shot ? `Shot ${pick.shot}` : "No shot", look.title, `${camera()?.label || pick.camera}, ${ei}`, display()?.label || pick.display, frame, nudged].filter(Boolean).join(" \u00b7 ");
}

drawn((state) => {
    const line = find("alone-line");
    if (!state.layout.alone) [kept, moved] = [false, false];
    const on = state.layout.alone && (kept || moved) && state.show && state.look;
    say(line, on ? words(state) : "");
});

export function begin() {
    document.addEventListener("pointermove", () => {
        if (!state.layout.alone) return;
        clearTimeout(resting);
        resting = setTimeout(() => {
            moved = false;
            change({});
        }, STAYS);
        if (moved) return;
        moved = true;
        change({});
    });
}
