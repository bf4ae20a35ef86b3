// Where the corrections of the shots come, where it matters: one calm line, with the rest of it on demand.

import { find, make, same, say } from "./dom.js";
import { get, newest } from "./server.js";
import { change, drawn, fault } from "./state.js";

const read = newest(async () => {
    try {
        change({ order: await get("order") });
        fault("order", null);
    } catch (error) {
        fault("order", error.message);
    }
});

// What it rests on: the show, and the corrections as they are in their files.
let of = null;
let last = null;
let said = null;

drawn(({ show, shots, layout, order, errors }) => {
    const box = find("shots-order");
    const warnings = order?.warnings ?? [];
    box.hidden = warnings.length === 0 && !errors.order;
    const words = errors.order ? [errors.order] : warnings;
    if (!same(words, said)) {
        said = words;
        const [first, ...others] = words;
        say(find("shots-order-line"), first ? `${first}${others.length ? ` (and ${others.length} more)` : ""}` : "");
        find("shots-order-all").replaceChildren(...words.map((one) => make("li", {}, one)));
    }
    if (layout.tab !== "shots" || !show || !shots || (last?.[0] === show && last[1] === shots)) return;
    last = [show, shots];
    const now = JSON.stringify([show.version, shots.grading, shots.shots.map(({ name, saved, look, camera }) => [name, saved, look, camera])]);
    if (of === now) return;
    of = now;
    read();
});
