// The steps of the look, in order: settings, bypass, order, what is added and what goes.

import { choices, find, make, minus, same, say, titled } from "./dom.js";
import { edit } from "./edits.js";
import { fieldsOf } from "./fields.js";
import { drawn, state } from "./state.js";

let shape = null;
let rows = [];
// The control that gets the focus when the list is made anew.
let focus = null;
const open = new Set();

const kindOf = (name) => state.show.kinds.find((k) => k.do === name) ?? { do: name, help: "", fields: [] };

// The name that a step keeps when the order changes: its kind, and the how-manieth of it.
const called = (steps, index) => {
    const before = steps.slice(0, index).filter((s) => s.do === steps[index].do).length;
    return `${steps[index].do} ${before}`;
};

function moved(from, to, button) {
    focus = `${button} ${to}`;
    edit({ op: "move", from, to });
}

function button(key, text, label, onclick) {
    return make("button", { type: "button", class: "small", "data-focus": key, "aria-label": label, title: label, onclick }, text);
}

// Dragging by the handle: a line shows where the step would land.
function dragging(row, handle, index) {
    handle.addEventListener("dragstart", (event) => {
        event.dataTransfer.effectAllowed = "move";
        event.dataTransfer.setData("application/x-step", String(index));
        event.dataTransfer.setDragImage(row, 12, 12);
        row.classList.add("dragged");
    });
    handle.addEventListener("dragend", () => {
        for (const { row: each } of rows) each.classList.remove("dragged", "before", "after");
    });
    const isStep = (event) => event.dataTransfer.types.includes("application/x-step");
    const half = (event) => {
        const { left, top, width, height } = row.getBoundingClientRect();
        // From left to right where there is room, else from top to bottom.
        const isBeyond = width < row.parentElement.clientWidth ? event.clientX > left + width / 2 : event.clientY > top + height / 2;
        return isBeyond ? "after" : "before";
    };
    row.addEventListener("dragover", (event) => {
        if (!isStep(event)) return;
        event.preventDefault();
        row.classList.remove("before", "after");
        row.classList.add(half(event));
    });
    row.addEventListener("dragleave", () => row.classList.remove("before", "after"));
    row.addEventListener("drop", (event) => {
        if (!isStep(event)) return;
        event.preventDefault();
        event.stopPropagation();
        const from = Number(event.dataTransfer.getData("application/x-step"));
        const gap = index + (half(event) === "after" ? 1 : 0);
        const to = Math.min(gap > from ? gap - 1 : gap, state.look.steps.length - 2);
        if (to !== from) moved(from, to, "handle");
    });
}

function rowOf(steps, index) {
    const step = steps[index];
    const kind = kindOf(step.do);
    const name = titled(step.do);
    const number = `step ${index + 1}, ${step.do}`;
    const says = make("p", { class: "says" });
    const handle = make("span", { class: "handle", draggable: "true", title: "Drag to move this step", "aria-hidden": "true" }, "⠿");
    const up = button(`up ${index}`, "←", `Move ${number} earlier`, () => moved(index, index - 1, "up"));
    const down = button(`down ${index}`, "→", `Move ${number} later`, () => moved(index, index + 1, "down"));
    const bypass = button(`bypass ${index}`, "Bypass", `Bypass ${number}`, () => {
        edit({ op: "bypass", step: index, on: !state.look.steps[index].bypassed });
    });
    const remove = button(`remove ${index}`, "×", `Remove ${number}`, () => {
        focus = `bypass ${Math.min(index, steps.length - 2)}`;
        edit({ op: "remove", step: index });
    });
    const key = called(steps, index);
    const fields = fieldsOf(kind, step, index, open.has(key), (is) => (is ? open.add(key) : open.delete(key)));
    const title = make("h3", {}, make("span", { class: "number" }, String(index + 1)), name);
    const row = make("li", { class: "step", "data-do": step.do, "data-help": kind.help },
        make("div", { class: "top" }, handle, title, says, make("div", { class: "buttons" }, bypass, up, down, remove)),
        make("div", { class: "fields" }, fields.nodes));
    // Whole, where there is no room for them.
    for (const words of row.querySelectorAll(".field :is(.name, .unit)")) words.title = words.textContent;
    dragging(row, handle, index);
    const update = (now) => {
        // The title has said the name.
        const said = minus((now.says ?? "").replace(new RegExp(`^${now.do}(: |$)`), ""));
        says.title = minus(now.says ?? "");
        say(says, now.bypassed ? ["Bypassed", said].filter(Boolean).join(": ") : said);
        row.classList.toggle("bypassed", Boolean(now.bypassed));
        bypass.setAttribute("aria-pressed", Boolean(now.bypassed));
        // The rendering stays, and stays last: without it there is no picture.
        const { steps } = state.look;
        const ends = index === steps.length - 1;
        bypass.disabled = ends && !now.bypassed;
        remove.disabled = ends;
        up.disabled = index === 0 || ends;
        down.disabled = index >= steps.length - 2;
        handle.draggable = !ends;
        handle.style.visibility = ends ? "hidden" : "";
        fields.update(now);
    };
    return { row, update };
}

function rebuild(steps) {
    const list = find("steps");
    const held = focus ?? (list.contains(document.activeElement) ? document.activeElement.dataset.focus : null);
    rows = steps.map((_, index) => rowOf(steps, index));
    list.replaceChildren(...rows.map(({ row }) => row));
    if (!held) return;
    const [what, index] = held.split(" ");
    focus = null;
    rows.forEach(({ update }, i) => update(steps[i]));
    // At an end, the arrow that got it there is of no use any more.
    const instead = { up: "down", down: "up" }[what] ?? "bypass";
    const targets = [held, `${instead} ${index}`].map((key) => list.querySelector(`[data-focus="${key}"]`));
    targets.find((target) => target && !target.disabled)?.focus();
}

drawn(({ look, show, errors }) => {
    if (!look || !show) return;
    const now = [look.name, look.steps.map((s) => s.do)];
    if (!same(now, shape)) {
        shape = now;
        rebuild(look.steps);
    }
    rows.forEach(({ update }, index) => update(look.steps[index]));
    say(find("steps-fault"), errors.steps ?? "");
    const kinds = show.kinds.map((k) => ({ value: k.do, label: titled(k.do) }));
    choices(find("add-kind"), kinds, find("add-kind").value || kinds[0]?.value);
    find("add-kind").dataset.help = kindOf(find("add-kind").value).help;
});

// What a setting does, and how too low and too high look.
function tell({ help, low, high }) {
    const words = { does: help, low: low ? `Too low: ${low}.` : "", high: high ? `Too high: ${high}.` : "" };
    for (const [part, text] of Object.entries(words)) {
        say(find(`help-${part}`), text);
        find(`help-${part}`).title = text;
    }
}

// Help stands in a place of its own: under each field, it would move what is about to be clicked.
function helping(event) {
    const about = event.target.closest("[data-help]");
    // What was read last stays, so that nothing jumps.
    if (about) tell(about.dataset);
}

// Rows of settings under the name of a step, in whole ones; a setting of three numbers has four.
function rowsOf(list) {
    const size = parseFloat(getComputedStyle(document.documentElement).fontSize);
    const top = list.querySelector(".step .top")?.offsetHeight ?? 1.5 * size;
    list.style.setProperty("--rows", Math.max(Math.floor((list.clientHeight - top - 0.2 * size) / (1.3 * size)), 4));
}

// Before the rendering, which must stay the last; a rendering goes to the end.
export function begin() {
    new ResizeObserver(() => rowsOf(find("steps"))).observe(find("steps"));
    for (const happens of ["focusin", "pointerover"]) find("path").addEventListener(happens, helping);
    find("add-kind").addEventListener("change", (event) => tell({ help: kindOf(event.target.value).help }));
    find("add").addEventListener("click", () => {
        const { steps } = state.look;
        const kind = kindOf(find("add-kind").value);
        const last = steps.at(-1);
        const ends = last !== undefined && kindOf(last.do).is_rendering;
        const at = ends && !kind.is_rendering ? steps.length - 1 : steps.length;
        focus = `bypass ${at}`;
        edit({ op: "add", do: kind.do, at });
    });
}
