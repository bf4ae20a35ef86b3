// Pinned places of a frame, up to eight, pixels and rectangles: their marks on the picture, and what the exact path says of them.
// A rectangle is read by the mean of its light, not of its log signal.

import { find, make, plain, same, say, signed } from "./dom.js";
import { post, newest } from "./server.js";
import { LIVE, change, drawn, fault, state } from "./state.js";
import { signalAt } from "./signal.js";
import { pixelAt } from "./stage.js";

export const MOST = 8;

// ------------------------------------------------------------------------------------------------------- kept

// With the shot, on the server, for the frame that they were made on; without one, as long as the browser's tab, by the frame.
const nameOf = ({ show, pick }) => show.frames.find((f) => String(f.id) === pick.frame)?.name ?? "";

const keyOf = (state) => `pins ${nameOf(state)}, ${state.frame.width} x ${state.frame.height}`;

function isPin(pin, { width, height }) {
    const whole = [pin?.x, pin?.y, pin?.width, pin?.height].every((v) => Number.isInteger(v) && v >= 0);
    return whole && pin.width > 0 && pin.height > 0 && pin.x + pin.width <= width && pin.y + pin.height <= height;
}

function stored(state) {
    const { frame, shot } = state;
    if (shot) return shot.pins.frame === nameOf(state) && shot.pins.width === frame.width && shot.pins.height === frame.height ? shot.pins.pins : [];
    try {
        return JSON.parse(sessionStorage.getItem(keyOf(state)) ?? "[]");
    } catch {
        return [];
    }
}

// Written as new ones are, so that the same place is known again.
const recall = (state) => stored(state).filter((pin) => isPin(pin, state.frame)).slice(0, MOST).map(({ x, y, width, height }) => ({ x, y, width, height }));

// The newest only, one request in flight.
const keep = newest(async (name, pins) => {
    try {
        await post(`shots/${encodeURIComponent(name)}/pins`, pins);
        fault("pins-kept", null);
    } catch (error) {
        fault("pins-kept", error.message);
    }
});

function lay(pins) {
    const { shot, frame } = state;
    if (shot) {
        const kept = { frame: nameOf(state), width: frame.width, height: frame.height, pins };
        const shots = state.shots && { ...state.shots, shots: state.shots.shots.map((s) => (s.name === shot.name ? { ...s, pins: kept } : s)) };
        change({ pins, shot: { ...shot, pins: kept }, shots });
        keep(shot.name, kept);
        return;
    }
    change({ pins });
    try {
        sessionStorage.setItem(keyOf(state), JSON.stringify(pins));
    } catch {
        // A browser that stores nothing still has them until the page is loaded anew.
    }
}

export function pin(place) {
    const { frame, shot, pick, pins, layout } = state;
    // Not before the shot that they are stored with has come.
    if (!frame || (pick.shot && !shot) || pins.some((p) => same(p, place))) return;
    if (pins.length === MOST) return void fault("pins", `There are ${MOST} pins: remove one first.`);
    fault("pins", null);
    lay([...pins, place]);
    if (!layout.scopes.pins) change({ scopes: { ...layout.scopes, pins: true } }, "layout");
}

export const pinCross = () => state.cross && pin({ ...state.cross, width: 1, height: 1 });

function remove(at) {
    fault("pins", null);
    lay(state.pins.filter((_, i) => i !== at));
    find("pin-cross").focus();
}

// ------------------------------------------------------------------------------------------------------ read

function placeOf({ x, y, width, height }, { frame, scales, view, curve }) {
    const nudge = curve === null ? 0 : view.nudge;
    if (width === 1 && height === 1 && nudge === 0) return { signal: signalAt(frame, { x, y }) };
    const sums = [0, 0, 0];
    for (let row = y; row < y + height; row += 1) {
        for (let column = x; column < x + width; column += 1) {
            const at = frame.channels * (row * frame.width + column);
            for (let c = 0; c < 3; c += 1) sums[c] += scales.cameraLight[frame.signal[at + c]];
        }
    }
    return { light: sums.map((sum) => (sum / (width * height)) * 2 ** nudge) };
}

const read = newest(async () => {
    const { pins, pick, frame, scales, pinned } = state;
    if (!pins.length || !scales) return pinned.length ? change({ pinned: [] }) : undefined;
    try {
        const { look, camera, display, shot } = pick;
        const { readings } = await post("places", { look, camera, display, shot, places: pins.map((p) => placeOf(p, state)) });
        change({ pinned: readings.map((reading, i) => ({ ...reading, pin: pins[i], frame: frame.id })) });
        fault("pinned", null);
    } catch (error) {
        fault("pinned", error.message);
    }
});

// Of a live picture, so often at most.
const READS = 250;
let waiting = null;
let lastRead = 0;

function readInTime({ frame, live }) {
    const wait = frame.id === LIVE && !live?.frozen ? lastRead + READS - performance.now() : 0;
    clearTimeout(waiting);
    waiting = setTimeout(() => {
        waiting = null;
        lastRead = performance.now();
        read();
    }, Math.max(wait, 0));
}

const placeKey = ({ id, width, height }) => `${id} ${width} ${height}`;

let last = [];
let of = [];

drawn((state) => {
    const { frame, show, shot, pick, pins, scales, cube, view, curve } = state;
    // A shot that was just chosen is on its way, and the frame that is its own.
    if (!frame || !show || frame.id !== pick.frame || (shot?.name ?? null) !== (pick.shot ?? null)) return;
    const place = `${placeKey(frame)} ${pick.shot}`;
    if (of !== place) {
        of = place;
        const kept = recall(state);
        if (!same(kept, pins)) return change({ pins: kept });
    }
    // The picture changes with its cube, whatever of look and shot was edited.
    const now = [frame, pins, scales, cube, curve === null ? 0 : view.nudge];
    if (!scales || now.every((v, i) => v === last[i])) return;
    last = now;
    if (pins.length || state.pinned.length) readInTime(state);
}, { each: true });

// ------------------------------------------------------------------------------------------------------- drawn

function mark({ x, y, width, height }, i, frame) {
    const [left, top, across, down] = [x / frame.width, y / frame.height, width / frame.width, height / frame.height].map((v) => `${100 * v}%`);
    const node = make("div", { class: width === 1 && height === 1 ? "pin" : "pin wide", "aria-hidden": "true" }, make("span", {}, String(i + 1)));
    Object.assign(node.style, { left, top, width: across, height: down });
    return node;
}

const listOf = (values, digits) => values.map((v) => plain(v, digits)).join(" ");
const stopsOf = (stops) => (stops === null ? "no light" : signed(stops));

const placeWords = ({ x, y, width, height }) => (width === 1 && height === 1 ? `column ${x}, row ${y}` : `${width} \u00d7 ${height} at column ${x}, row ${y}`);

function linesOf(reading) {
    return reading ? [
        `${stopsOf(reading.stops)}${reading.stops === null ? "" : " stops"} \u00b7 ${plain(reading.nits, reading.nits < 10 ? 2 : 1)} nits`,
        `L* ${plain(reading.lab[0], 1)}  a* ${plain(reading.lab[1], 1)}  b* ${plain(reading.lab[2], 1)}`,
        `Channels ${reading.channel_stops.map(stopsOf).join(" ")} stops`,
        `10-bit codes: camera ${listOf(reading.camera_code_10, 0)}, display ${listOf(reading.display_code_10, 0)}`,
    ] : [];
}

const entry = (pin, i) => make("li", {},
    make("div", { class: "pin-head" }, make("b", {}, String(i + 1)), make("span", { class: "says" }, placeWords(pin)),
        make("button", { type: "button", class: "small", "aria-label": `Remove pin ${i + 1}`, onclick: () => remove(i) }, "\u00d7")));

// The lines of an entry under its head. Those that are there stay: a live picture has new ones often, and the button beside them
// is pressed meanwhile.
function tell(node, lines) {
    while (node.childElementCount - 1 > lines.length) node.lastChild.remove();
    for (const [n, words] of lines.entries()) {
        const line = node.children[n + 1] ?? node.appendChild(make("div", { class: n < 2 ? null : "says" }));
        say(line, words);
    }
}

let shown = [];

drawn((state) => {
    const { pins, pinned, frame, layout, view, other, errors, dragged } = state;
    const panel = find("pins");
    if (!panel) return;
    panel.hidden = !layout.scopes.pins;
    find("scope-pins").checked = layout.scopes.pins;
    const hasOther = view.mode === "divide" && Boolean(other?.frame);
    say(find("pins-of"), hasOther ? `Pins read ${nameOf(state)}, which stands right of the divide; left of it is another frame.` : "");
    say(find("pins-fault"), [errors.pins, errors.pinned, errors["pins-kept"]].filter(Boolean).join("; "));
    const seen = layout.scopes.pins && !["compare", "grid"].includes(view.mode);
    if (!frame) return;
    const reading = (p) => pinned.find((r) => r.frame === frame.id && same(r.pin, p));
    const now = [pins, placeKey(frame), seen, dragged];
    const isNew = now.some((v, i) => v !== shown[i]);
    if (isNew) find("pin-list").replaceChildren(...pins.map(entry));
    for (const [i, p] of pins.entries()) tell(find("pin-list").children[i], linesOf(reading(p)));
    if (!isNew) return;
    shown = now;
    find("pin-marks").replaceChildren(...(seen ? [...pins.map((p, i) => mark(p, i, frame)), ...(dragged ? [mark(dragged, pins.length, frame)] : [])] : []));
    find("pin-cross").disabled = pins.length === MOST;
});

// ----------------------------------------------------------------------------------------------------- by pointer

const between = (a, b) => ({ x: Math.min(a.x, b.x), y: Math.min(a.y, b.y), width: Math.abs(a.x - b.x) + 1, height: Math.abs(a.y - b.y) + 1 });

// With Shift, a press pins a pixel, and a drag a rectangle.
function pointer(around) {
    let from = null;
    let isDone = false;
    around.addEventListener("pointerdown", (event) => {
        isDone = false;
        if (!event.shiftKey || event.button !== 0 || event.target.id !== "canvas") return;
        from = pixelAt(event);
        if (!from) return;
        event.preventDefault();
        event.stopPropagation();
        around.setPointerCapture(event.pointerId);
    }, true);
    around.addEventListener("pointermove", (event) => {
        if (!from) return;
        const to = pixelAt(event, true);
        if (to) change({ dragged: between(from, to) });
    }, true);
    const end = (event) => {
        if (!from) return;
        const to = pixelAt(event, true) ?? from;
        if (event.type === "pointerup") pin(between(from, to));
        from = null;
        isDone = true;
        change({ dragged: null });
    };
    around.addEventListener("pointerup", end, true);
    around.addEventListener("pointercancel", end, true);
    around.addEventListener("click", (event) => {
        if (isDone) event.stopPropagation();
        isDone = false;
    }, true);
}

export function begin() {
    find("picture").append(make("div", { id: "pin-marks" }));
    find("scopes").append(make("section", { id: "pins", "aria-label": "Pins", hidden: true },
        make("div", { class: "pin-head" }, make("h2", {}, "Pins"),
            make("button", { type: "button", class: "small", id: "pin-cross", "aria-keyshortcuts": "c", title: "Pin the pixel under the cross (C)", onclick: pinCross }, "Pin the cross")),
        make("p", { class: "says" }, "With Shift, drag a rectangle on the picture: it is read by the mean of its light."),
        make("p", { id: "pins-of", class: "says" }),
        make("ol", { id: "pin-list" }),
        make("p", { id: "pins-fault", class: "fault", role: "alert", hidden: true })));
    pointer(find("picture"));
}

