// A drag on the picture while E is held: up is exposure, across is white, by the helpers of the shot. All of a drag is one version.

import { clamp, find, signed } from "./dom.js";
import { edit } from "./shots.js";
import { change, state } from "./state.js";
import { dragged } from "./work.js";

// Stops over the height of the picture, and mired over its width: a mired is a millionth of a reciprocal kelvin, and as many of
// them are about as much to the eye at every white.
const STOPS = 4;
const MIREDS = 200;
const D65 = 6504;
const KELVIN = { low: 1700, high: 25000 };
// Pixels of the screen within which an axis does not move.
const STILL = 4;

let held = false;
let from = null;
// A press of this kind is no click for the cross.
let isDone = false;

const isText = (node) => node instanceof Element && node.matches("select, textarea, input:not([type=range], [type=radio], [type=checkbox])");

// The light that becomes neutral: a bluer one, the further to the right, so that the picture turns warmer.
const whiteOf = (part) => Math.round(clamp(1e6 / clamp(1e6 / D65 - MIREDS * part, 1, 1e6), KELVIN.low, KELVIN.high));

function move(event) {
    const { width, height } = from.box;
    const far = (v) => (Math.abs(v) < STILL ? 0 : v - Math.sign(v) * STILL);
    const [x, y] = [far(event.clientX - from.x) / width, far(from.y - event.clientY) / height];
    if (x === 0 && y === 0 && !from.moved) return;
    from.moved = true;
    const [stops, kelvin] = [Number((STOPS * y).toFixed(2)), x === 0 ? null : whiteOf(x)];
    const { look, camera, display } = state.pick;
    edit({ op: "balance", on: from.numbers, stops, kelvin, look, camera, display, drag: from.drag });
    const mireds = Math.round(1e6 / D65 - 1e6 / (kelvin ?? D65));
    change({ helped: `Drag: ${signed(stops)} stops${mireds === 0 ? "" : `, ${Math.abs(mireds)} mired ${mireds > 0 ? "warmer" : "cooler"}`}` });
}

function end(event) {
    if (!from) return;
    from = null;
    isDone = true;
    dragged(false);
    event.stopPropagation();
}

function hold(is) {
    held = is;
    find("canvas").classList.toggle("balancing", is && state.shot !== null);
}

export function begin() {
    const around = find("picture");
    document.addEventListener("keydown", (event) => {
        if (event.key.toLowerCase() !== "e" || event.ctrlKey || event.metaKey || event.altKey || !state.layout.letters || isText(event.target)) return;
        hold(true);
    });
    document.addEventListener("keyup", (event) => event.key.toLowerCase() === "e" && hold(false));
    addEventListener("blur", () => hold(false));
    around.addEventListener("pointerdown", (event) => {
        isDone = false;
        if (!held || !state.shot || event.button !== 0 || event.target.id !== "canvas") return;
        event.preventDefault();
        event.stopPropagation();
        around.setPointerCapture(event.pointerId);
        const { clientX: x, clientY: y } = event;
        from = { x, y, box: find("canvas").getBoundingClientRect(), numbers: state.shot.numbers, drag: `balance ${performance.now()}`, moved: false };
        dragged(true);
    }, true);
    around.addEventListener("pointermove", (event) => {
        if (!from) return;
        event.stopPropagation();
        move(event);
    }, true);
    around.addEventListener("pointerup", end, true);
    around.addEventListener("pointercancel", end, true);
    around.addEventListener("click", (event) => {
        if (isDone) event.stopPropagation();
        isDone = false;
    }, true);
}
