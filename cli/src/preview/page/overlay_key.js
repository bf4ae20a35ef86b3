// What an overlay is of: every zone with its colour and its stops, and the settings of it. It stands in the side panel, so that the
// picture keeps its size; where that is folded, on a line under the picture that is there with and without an overlay.

import { draw, find, make, minus, same, say, signed } from "./dom.js";
import { BANDS } from "./shaders.js";
import { css } from "./signal.js";
import { change, drawn } from "./state.js";

const SIZE = { wide: 24, high: 16 };

function patch(colour, label) {
    const { wide, high } = SIZE;
    const half = wide / 2;
    const inner = colour === null ? [draw("rect", { width: half, height: high, fill: "#4a4a4a" }), draw("rect", { x: half, width: half, height: high, fill: "#b4b4b4" })]
        : draw("rect", { width: wide, height: high, fill: colour });
    const box = draw("svg", { viewBox: `0 0 ${wide} ${high}`, "aria-hidden": "true" }, inner,
        draw("rect", { width: wide, height: high, fill: "none", stroke: "#000", "stroke-width": 1 }));
    return make("span", { class: "entry" }, box, label);
}

// The bands of the map of a comparison.
export const bands = () => BANDS.map(({ colour, label }) => patch(colour, label));

const colourOf = (colour) => (Array.isArray(colour) ? css(colour) : colour);

// A zone by its name and its stops; one that has no colour shows the picture in grey. A ladder's zones are named by their stops.
function zoneWords({ label, from, to, colour }, kind) {
    if ((kind === "ladder" && from !== null && to !== null) || label.endsWith(" stops")) return minus(label);
    const stops = from === null && to === null ? "" : from === null ? `under ${signed(to)}` : to === null ? `from ${signed(from)}` : `${signed(from)} to ${signed(to)}`;
    const name = colour ? minus(label) : "picture in grey";
    return stops ? `${name} (${stops})` : name;
}

const BASES = { luminance: "luminance", highest: "the strongest channel" };

function shownOf({ overlay, view }) {
    if (view.overlay === "none" || view.mode === "compare" || !overlay) return null;
    const ei = view.ei == null ? "not rated" : `EI ${view.ei}`;
    return {
        of: `Stops from mid-grey, by ${BASES[overlay.asked.basis ?? view.basis]}, ${ei}:`,
        entries: overlay.key.map((zone) => [zone.colour && colourOf(zone.colour), zoneWords(zone, overlay.kind)]),
        says: minus(overlay.says),
    };
}

const wide = matchMedia("(min-width: 1000px) and (min-height: 600px)");

let key = null;

drawn((state) => {
    const about = find("overlay-about");
    const home = wide.matches && state.layout.side === "open" ? find("overlay-side") : find("below");
    if (about.parentElement !== home) home.append(about);
    const isOn = state.view.overlay !== "none" && state.view.mode !== "compare";
    about.hidden = !isOn;
    const shown = isOn ? shownOf(state) : null;
    if (same(key, shown)) return;
    key = shown;
    const { of, entries, says } = shown ?? { of: "", entries: [], says: "" };
    find("overlay-key").replaceChildren(...(shown ? [make("p", {}, of), make("div", { class: "zones" }, entries.map((e) => patch(...e)))] : []));
    say(find("overlay-says"), says);
    for (const id of ["overlay-key", "overlay-says"]) find(id).title = says;
});

wide.addEventListener("change", () => change({}));
