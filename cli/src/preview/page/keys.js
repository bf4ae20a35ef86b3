// Every key, as a table: opened by a question mark, or from the settings.

import { find, make } from "./dom.js";

const PARTS = [
    ["On the picture", [
        ["↑ ↓", "Nudge the exposure a quarter of a stop; with Shift a whole one"],
        ["0", "No nudge"],
        ["← →", "Move the divide; with Shift ten times as far"],
        ["Space, held", "The other side alone"],
        ["Shift, drag", "Pin a rectangle"],
        ["E held, drag", "Correct the shot: up and down its exposure, right and left its white, warmer and cooler"],
    ]],
    ["On the cross", [["← → ↑ ↓", "Move it a pixel; with Shift ten"]]],
    ["On a tile", [["← → ↑ ↓", "Move its cross; with Shift ten pixels"], ["Enter", "Take its version"], ["Delete", "Remove its version"]]],
    ["Everywhere", [
        ["Control Z", "Undo: of the shot while its tab is open, else of the look"],
        ["Control Shift Z", "Do again"],
        ["Control S", "Save: the shot while its tab is open, else the look"],
        ["Escape", "Go from a list to the picture; show the controls again"],
        ["?", "These keys"],
    ]],
    ["View", [
        ["F", "Picture alone"], ["I", "Picture alone: shot, camera and EI in a line"], ["Z", "Fit, 1:1, 2:1"], ["W A S D", "Move a zoomed picture"],
        ["V", "Next view"], ["O", "Next overlay"], ["U", "Next surround"], ["B", "Height of the controls"], ["G", "Side panel"],
    ]],
    ["Shots and pins", [["N", "Next shot"], ["P", "Previous shot"], ["C", "Pin the pixel under the cross"]]],
    ["Live picture", [["L", "Freeze, go on"], [", and .", "Frozen: a frame back, a frame on"], ["K", "Grab a still"], ["T", "New shot of this frame"]]],
    ["Tabs", [["← →", "The tab before, the next one"], ["Home End", "The first tab, the last one"]]],
];

const table = ([title, rows]) => make("table", {}, make("caption", {}, title),
    make("tbody", {}, rows.map(([key, does]) => make("tr", {}, make("th", { scope: "row", class: "text" }, make("kbd", {}, key)), make("td", { class: "text" }, does)))));

export function showKeys() {
    const dialog = find("keys-table");
    if (dialog.open) return dialog.close();
    if (!find("keys-all").childElementCount) find("keys-all").append(...PARTS.map(table));
    dialog.showModal();
}

export function begin() {
    find("keys-open").addEventListener("click", showKeys);
}
