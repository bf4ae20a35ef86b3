// Numbers beside the picture: the pixel at every stage, the worst stress finding, old against new.

import { find, light, make, plain, same, say, signed, titled } from "./dom.js";
import { drawn } from "./state.js";
import { titleOf } from "./work.js";

// --------------------------------------------------------------------------------------------------------- pixel

const cell = (value) => make("td", {}, light(value));

function stages({ stages }) {
    const head = ["Stage", "Red", "Green", "Blue", "Unit"].map((name, i) => make("th", { scope: "col", class: i === 0 || i === 4 ? "text" : null }, name));
    const rows = stages.map(({ name, values, unit, note }) => make("tr", {},
        make("th", { scope: "row", class: "text" }, name), values.map(cell),
        make("td", { class: "text" }, [unit, note].filter(Boolean).join("; "))));
    return [make("thead", {}, make("tr", {}, head)), make("tbody", {}, rows)];
}

function pixelWords({ at, pointed, of, nudge, probe }) {
    const codes = (values) => values.map((v) => plain(v, 0)).join(" ");
    const parts = [
        `${pointed ? "Under the pointer" : "At the cross"}, column ${at.x}, row ${at.y}`,
        of,
        nudge ? `nudged by ${signed(nudge)} stops` : null,
        Number.isFinite(probe.stops_from_grey) ? `${signed(probe.stops_from_grey)} stops from mid-grey` : "no light",
        `8-bit ${codes(probe.display_code_8)}`,
        `10-bit ${codes(probe.code_10 ?? probe.display_code_10 ?? [])}`,
        `${light(probe.nits)} nits`,
    ];
    return parts.filter(Boolean).join(" · ");
}

let reading = null;

drawn((state) => {
    say(find("reading-fault"), state.errors.reading ?? "");
    if (!state.reading && state.show?.frames.length === 0) say(find("reading-says"), "The pixel under the pointer, at every stage of the path, once there is a frame.");
    if (!state.reading || state.reading === reading) return;
    reading = state.reading;
    say(find("reading-says"), pixelWords(reading));
    find("reading").replaceChildren(...stages(reading.probe));
});

// --------------------------------------------------------------------------------------------------------- stress

const GRADES = { holds: "All holds; the nearest to its limit", marginal: "Marginal", breaks: "Breaks" };

function worstWords(worst) {
    if (!worst) return "";
    if (!worst.finding) return worst.done ? "Nothing found." : "Testing…";
    const { property, words, limit, unit, verdict, hint } = worst.finding;
    if (!property) return words;
    const bound = Number.isFinite(limit) ? ` (limit ${plain(limit, Math.abs(limit) < 10 ? 2 : 0)} ${unit})` : "";
    return `${GRADES[verdict] ?? verdict}: ${words}${bound}.${verdict === "holds" || !hint ? "" : ` ${titled(hint)}.`}`;
}

// One calm line; the whole is opened on demand.
function worstLine(worst) {
    if (!worst?.finding) return worst?.done ? "Stress test: nothing found" : "Stress test: testing…";
    const { property, title, verdict } = worst.finding;
    if (!property) return "Stress test: not done";
    return verdict === "holds" ? "Stress test: all holds" : `Stress test ${verdict === "breaks" ? "breaks" : "marginal"}: ${title}`;
}

const labelOf = (list, name) => list.find((e) => e.name === name)?.label || name;

// Which state of which look a finding is of, where it is not the one that is in sight.
function olderWords({ of, isSaved, when }, { pick, show, look }) {
    const others = [
        of.look === pick.look ? null : `look ${titleOf(of.look)}`,
        of.camera === pick.camera ? null : `camera ${labelOf(show.cameras, of.camera)}`,
        of.display === pick.display ? null : `display ${labelOf(show.displays, of.display)}`,
    ].filter(Boolean);
    const state = isSaved && look?.unsaved ? "as saved" : `as it was at ${when.toLocaleTimeString("en-GB")}`;
    return `Testing the newest state. This is of ${others.length ? others.join(", ") : "the look"}, ${state}:`;
}

// What was found of the version before stands, dimmed, until this one is tested: nothing jumps during a drag.
let found = null;

drawn((state) => {
    const { worst, errors, look, pick } = state;
    if (worst?.done || !found) found = worst;
    const { of } = found ?? {};
    const isNow = of && ["look", "camera", "display"].every((p) => of[p] === pick[p]) && found.version === look?.version;
    const waits = Boolean(found && (!isNow || !found.done));
    say(find("worst-of"), !found?.done ? "" : isNow ? "Of the look as it is now" : olderWords(found, state));
    say(find("worst-words"), worstWords(found));
    const section = find("worst");
    say(find("worst-line"), worstLine(found));
    find("worst-line").title = find("worst-line").textContent;
    section.dataset.grade = found?.finding?.verdict ?? "";
    section.classList.toggle("waiting", waits);
    section.setAttribute("aria-busy", waits);
    say(find("worst-fault"), errors.worst ?? "");
});

// -------------------------------------------------------------------------------------------------------- compare

function groups({ groups }) {
    const head = ["Colours", "Mean", "95 %", "Most"].map((name, i) => make("th", { scope: "col", class: i === 0 ? "text" : null }, name));
    const rows = groups.map(({ name, title, mean, p95, max, words }) => make("tr", { title: [words].flat().join(", ") },
        make("th", { scope: "row", class: "text" }, title ?? name), [mean, p95, max].map((v) => make("td", {}, plain(v)))));
    return make("table", {}, make("thead", {}, make("tr", {}, head)), make("tbody", {}, rows));
}

function comparison({ compare, view, errors }) {
    if (errors.compare) return [make("p", { class: "fault" }, errors.compare)];
    if (view.other === "signal") return [make("p", {}, "Against the camera signal there are no numbers: choose a look or a revision.")];
    if (!compare) return [make("p", {}, "Comparing…")];
    const grey = compare.mid_grey;
    const moved = Number.isFinite(grey?.stops) ? make("p", {}, `Mid-grey moves by ${signed(grey.stops)} stops.`) : null;
    const changes = compare.changes.length ? make("ul", {}, compare.changes.map((words) => make("li", {}, words)))
        : make("p", {}, "The documents do not differ.");
    return [
        make("div", {}, make("p", {}, `On the display, by the exact path: ${compare.metric}`), groups(compare)),
        make("div", {}, moved, changes),
    ];
}

let compared = null;

drawn((state) => {
    const { view, compare, errors } = state;
    const numbers = find("numbers");
    numbers.hidden = view.mode !== "compare" || view.held;
    const now = [compare, view.other, errors.compare];
    if (numbers.hidden || same(now, compared)) return;
    compared = now;
    numbers.replaceChildren(...comparison(state).filter(Boolean));
});
