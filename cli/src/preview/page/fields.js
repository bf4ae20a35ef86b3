// Controls of a step's settings, made from what the server says of each: kind, unit, bounds, default, help.

import { clamp, make, rounded, say, titled, typed } from "./dom.js";
import { edit, place, problemsOf } from "./edits.js";
import { change, fault as forget, state } from "./state.js";
import { dragged } from "./work.js";

let drags = 0;

const limits = (field) => {
    const low = field.soft_min ?? field.min ?? 0;
    const high = field.soft_max ?? field.max ?? 1;
    return { low, high, step: field.step ?? (high - low) / 200 };
};

// What a setting does, and how too low and too high look: for who hears it.
const described = ({ help, too_low: low, too_high: high }) => [help, low && `Too low: ${low}.`, high && `Too high: ${high}.`].filter(Boolean).join(" ");

// The pixels of a drag on a number, or on a slider with Shift, over all that the slider spans. One of them is
// a round value; with Shift on a number a tenth of it.
const FINE = 2000;
// Pixels within which a press is a click.
const STILL = 3;

const roundStep = (span) => 10 ** Math.floor(Math.log10(span / FINE));

// A fine drag to the left and right: `begins` says of a press whether it begins one, `drag` is told by how much the value rises, and
// `end` that it is over.
function fine(node, span, { begins, drag, end }) {
    let from = null;
    node.addEventListener("pointerdown", (event) => {
        if (event.button !== 0 || !begins(event)) return;
        from = { x: event.clientX, moved: false };
    });
    node.addEventListener("pointermove", (event) => {
        // Let go of elsewhere.
        if (!event.buttons) from = null;
        if (!from) return;
        const far = event.clientX - from.x;
        if (!from.moved && Math.abs(far) < STILL) return;
        if (!from.moved) {
            from = { x: event.clientX, moved: true };
            node.setPointerCapture(event.pointerId);
        }
        event.preventDefault();
        const tenth = event.shiftKey && node.type === "number" ? 0.1 : 1;
        drag((event.clientX - from.x) * roundStep(span) * tenth);
    });
    const over = () => {
        if (from?.moved) end();
        from = null;
    };
    node.addEventListener("pointerup", over);
    node.addEventListener("pointercancel", over);
}

// A slider and a number for one value. `now` gives it as it stands, `set` takes a new one. Tab leads from number to number: what the
// slider does, the arrow keys do on the number.
function scalar(field, name, id, set) {
    const { low, high, step } = limits(field);
    const integer = field.type === "integer";
    const slider = make("input", {
        type: "range", min: low, max: high, step: integer ? 1 : step, tabindex: -1, "aria-label": `${name}, slider`, "aria-description": described(field),
        title: "With Shift, a drag is fine",
    });
    const number = make("input", {
        type: "number", id, step: integer ? 1 : step, min: field.min, max: field.max, inputmode: "decimal", "aria-description": described(field),
    });
    // What is being typed must not be overwritten by what comes back from before.
    let typing = false;
    let drag = null;
    // The value as it stands, and the text that stands for it, which may be rounded.
    let [exact, shown] = [null, ""];
    const dragTo = (value) => {
        drag ??= `drag ${(drags += 1)}`;
        dragged(true);
        number.value = rounded(value);
        set(value, drag);
    };
    const dragEnds = () => {
        drag = null;
        dragged(false);
    };
    // A fine drag with Shift on the slider is not one of its own.
    let isFine = false;
    slider.addEventListener("input", () => !isFine && dragTo(Number(slider.value)));
    slider.addEventListener("change", () => !isFine && dragEnds());
    let start = 0;
    const least = field.min ?? -Infinity;
    const most = field.max ?? Infinity;
    const by = (far) => {
        const value = clamp(start + far, least, most);
        dragTo(integer ? Math.round(value) : Number(value.toPrecision(9)));
    };
    const begin = () => {
        start = exact ?? field.default ?? low;
        return true;
    };
    fine(number, high - low, { begins: () => document.activeElement !== number && begin(), drag: by, end: () => { number.blur(); dragEnds(); } });
    slider.addEventListener("pointerdown", (event) => (isFine = event.shiftKey), true);
    slider.addEventListener("mousedown", (event) => event.shiftKey && event.preventDefault());
    fine(slider, high - low, { begins: (event) => event.shiftKey && begin(), drag: (far) => { slider.value = clamp(start + far, low, high); by(far); }, end: dragEnds });
    const isTyping = (is) => {
        typing = is;
        number.toggleAttribute("data-typing", is);
    };
    number.addEventListener("input", () => isTyping(true));
    number.addEventListener("change", () => {
        isTyping(false);
        // A number that was rounded to be read is not what was typed.
        if (number.value === shown) return;
        if (number.value !== "" && Number.isFinite(number.valueAsNumber)) set(number.valueAsNumber);
        // What is no number becomes what was there.
        else change({});
    });
    return {
        parts: [slider, number],
        drop: () => isTyping(false),
        update(value, refused) {
            exact = value ?? null;
            const text = rounded(value ?? "");
            if (!typing && !refused && drag === null && number.value !== text) number.value = text;
            if (!typing) shown = text;
            number.title = `${text === typed(value ?? "") ? "" : `${typed(value)}. `}Drag to the left and right for fine steps, with Shift for finer ones.`;
            if (drag === null) slider.value = clamp(value ?? field.default ?? low, low, high);
            slider.setAttribute("aria-valuetext", `${text} ${field.unit ?? ""}`.trim());
            number.setAttribute("aria-invalid", refused);
        },
    };
}

export function numberField(field, id, set) {
    const control = scalar(field, field.label, id, set);
    return { node: make("div", { class: "value" }, control.parts), update: control.update, drop: control.drop, target: id };
}

export function vectorField(field, id, set) {
    const names = field.parts;
    const otherwise = (i) => (Array.isArray(field.default) ? field.default[i] : field.default ?? 0);
    let current = names.map((_, i) => otherwise(i));
    const controls = names.map((name, i) => {
        const at = (value, drag) => {
            current = current.map((old, j) => (j === i ? value : old));
            set(current, drag);
        };
        return scalar({ ...field, default: otherwise(i) }, `${field.label}, ${name}`, `${id}-${i}`, at);
    });
    const rows = controls.map((control, i) => make("div", { class: "value part", "data-part": names[i] },
        make("label", { for: `${id}-${i}` }, names[i]), control.parts));
    return {
        node: make("div", { class: "vector" }, rows),
        drop: () => controls.forEach((control) => control.drop()),
        update(value, refused) {
            if (Array.isArray(value)) current = value;
            controls.forEach((control, i) => control.update(value?.[i], refused));
        },
    };
}

function choiceField(field, id, set) {
    const options = (field.choices ?? []).map((c) => make("option", { value: c.name ?? c }, c.label ?? c));
    const select = make("select", { id, onchange: () => set(select.value) }, options);
    return { node: select, target: id, update: (value) => (select.value = value ?? field.default ?? "") };
}

function boolField(field, id, set) {
    const box = make("input", { type: "checkbox", id, onchange: () => set(box.checked) });
    return { node: box, target: id, inline: true, update: (value) => (box.checked = Boolean(value ?? field.default)) };
}

function textField(field, id, set) {
    const known = `${id}-known`;
    const names = field.choices?.length ? make("datalist", { id: known }, field.choices.map((c) => make("option", { value: c }))) : null;
    const input = make("input", { type: "text", id, spellcheck: "false", autocomplete: "off", list: names && known });
    input.addEventListener("change", () => set(input.value === "" ? null : input.value));
    const update = (value, refused) => {
        if (!refused && document.activeElement !== input) input.value = value ?? "";
        input.setAttribute("aria-invalid", refused);
    };
    return { node: names ? make("div", {}, input, names) : input, target: id, update };
}

// What no control fits is shown as it stands.
function fixedField(field, id) {
    const output = make("output", { id });
    return { node: output, target: id, update: (value) => say(output, value === undefined ? "–" : JSON.stringify(value)) };
}

const MAKERS = {
    number: numberField, integer: numberField, vector2: vectorField, vector3: vectorField, choice: choiceField, bool: boolField,
    text: textField,
};

// The control of `field` of the step at `index`: its element, and how it is brought up to date.
export function fieldOf(given, index) {
    const field = { ...given, label: titled(given.label) };
    const id = `f${index}-${field.key.replace(/\W/g, "-")}`;
    const wanted = { op: "set", step: index, key: field.key };
    const set = (value, drag) => edit({ ...wanted, value, drag });
    const control = (MAKERS[field.type] ?? fixedField)(field, id, set);
    const reset = make("button", {
        type: "button", class: "small", title: `Remove ${field.label}: the default then applies`,
        "aria-label": `${field.label}: back to the default`, onclick: () => set(null),
    }, "Default");
    const unit = field.unit ? make("span", { class: "unit" }, field.unit) : null;
    const fault = make("p", { class: "fault", id: `${id}-fault`, role: "alert", hidden: true });
    const name = control.target
        ? make("label", { for: control.target, class: "name" }, field.label)
        : make("span", { class: "name", id: `${id}-name` }, field.label);
    const head = make("div", { class: "head" }, control.inline ? control.node : null, name, unit, reset);
    const group = control.target ? {} : { role: "group", "aria-labelledby": `${id}-name` };
    const node = make("div", { class: "field", "data-key": field.key, "data-help": field.help, "data-low": field.too_low, "data-high": field.too_high, ...group },
        head, control.inline ? null : control.node, fault);
    // Escape takes back what was typed and refused.
    node.addEventListener("keydown", (event) => {
        if (event.key !== "Escape") return;
        control.drop?.();
        forget(place(wanted), null);
        change({});
    });
    const update = (step, problems) => {
        const words = state.errors[place(wanted)] ?? problems[place(wanted)] ?? "";
        const value = step.values[field.key];
        const given = step.given.includes(field.key);
        node.classList.toggle("left-out", !given);
        reset.hidden = !given || field.required === true;
        control.update(value, words !== "");
        say(fault, words);
        // What is wrong must not lie under a fold.
        const fold = node.closest("details");
        if (words && fold) fold.open = true;
    };
    return { node, update };
}

// Settings that the document says come first, the others under a fold.
export function fieldsOf(kind, step, index, isOpen, opened) {
    const controls = kind.fields.map((field) => ({ field, ...fieldOf(field, index) }));
    const said = controls.filter(({ field }) => step.given.includes(field.key));
    const rest = controls.filter((control) => !said.includes(control));
    const summary = `${said.length ? "Other settings" : "Settings"}, at their defaults: ${rest.length}`;
    const fold = rest.length === 0 ? null : make("details", { open: isOpen, ontoggle: (event) => opened(event.target.open) },
        make("summary", {}, summary), rest.map((control) => control.node));
    return {
        nodes: [...said.map((control) => control.node), fold],
        update(now) {
            const problems = problemsOf(state.look);
            for (const control of controls) control.update(now, problems);
        },
    };
}
