// The older and the newer picture beside each other, under them the map of what differs, and beside the map its numbers. Names stand
// directly under their pictures, in room that is left for them between the panes.

import { find, make, same, say } from "./dom.js";
import { bands } from "./overlay_key.js";
import { GAP, layoutOf } from "./picture.js";
import { change, drawn, state } from "./state.js";

// The height of a name, in rem, as the style sheet has it.
const LINE = 1.3;
// Of the window, where the stage has no height of its own, as the style sheet has it.
const PART = 0.62;

// Pixels of the canvas that the names take between the panes.
export function underOf(frame) {
    const { view, layout } = state;
    if (layoutOf(view) !== "compare") return 0;
    const line = LINE * parseFloat(getComputedStyle(document.documentElement).fontSize);
    const { clientWidth: width, clientHeight: own } = find("fit");
    const height = getComputedStyle(find("fit")).containerType === "size" ? own : PART * innerHeight;
    const fit = Math.min(width / (2 * frame.width + GAP), (height - 2 * line) / (2 * frame.height));
    return Math.round(line / Math.max(layout.zoom ? layout.zoom / devicePixelRatio : fit, 0.05));
}

const percent = (part) => `${100 * part}%`;

let last = null;

// Where names and numbers lie, as parts of the canvas. `names`: of the three panes.
export function place(frame, names) {
    const box = find("panes");
    const on = layoutOf(state.view) === "compare";
    box.hidden = !on;
    if (!on) return void (last = null);
    const under = underOf(frame);
    const [width, height] = [2 * frame.width + GAP, 2 * frame.height + under];
    const now = [frame.width, frame.height, under, names];
    if (same(now, last)) return;
    last = now;
    const [half, right] = [percent(frame.width / width), percent((frame.width + GAP) / width)];
    const [first, second] = [percent(frame.height / height), percent((frame.height + under) / height)];
    const put = (id, values) => Object.assign(find(id).style, values);
    put("pane-old", { left: 0, top: first, width: half });
    put("pane-new", { left: right, top: first, width: half });
    put("pane-map", { left: 0, top: "100%", width: "100%" });
    put("numbers", { left: right, top: second });
    for (const [i, id] of ["pane-old", "pane-new"].entries()) {
        say(find(id), names[i]);
        find(id).title = names[i];
    }
    find("pane-map").replaceChildren(make("span", {}, `${names[2]}, CIEDE2000:`), ...bands());
    find("pane-map").title = `${names[2]}: CIEDE2000 between the two as this screen shows them`;
}

export function begin() {
    new ResizeObserver(() => state.view.mode === "compare" && change({})).observe(find("fit"));
}

drawn(({ view }) => {
    if (layoutOf(view) !== "compare") find("panes").hidden = true;
});
