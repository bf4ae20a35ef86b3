// Elements and numbers as text. Nothing here knows the page.

const SVG = "http://www.w3.org/2000/svg";

function fill(node, attributes, children) {
    for (const [name, value] of Object.entries(attributes ?? {})) {
        if (value === undefined || value === null || value === false) continue;
        if (name.startsWith("on")) node.addEventListener(name.slice(2), value);
        else node.setAttribute(name, value === true ? "" : value);
    }
    node.append(...children.flat(Infinity).filter((child) => child !== null && child !== undefined && child !== false));
    return node;
}

// An element with attributes, listeners (`onclick`) and children.
export const make = (tag, attributes, ...children) => fill(document.createElement(tag), attributes, children);

export const draw = (tag, attributes, ...children) => fill(document.createElementNS(SVG, tag), attributes, children);

// A comma in a number, as many keyboards have it, is its point: a browser would drop it, and take 0,5 for 05.
document.addEventListener("beforeinput", (event) => {
    if (event.data !== "," || !event.target.matches?.("input[type=number]")) return;
    event.preventDefault();
    document.execCommand("insertText", false, ".");
});

export const find = (id) => document.getElementById(id);

// Sets text only where it differs, so that nothing is announced or selected anew without cause.
export function say(node, text) {
    if (node.textContent !== text) node.textContent = text;
    node.hidden = text === "";
}

// Fills a list of choices, and keeps what was picked.
export function choices(select, list, picked) {
    const wanted = JSON.stringify(list);
    if (select.dataset.list !== wanted) {
        select.dataset.list = wanted;
        const option = ({ value, label }) => make("option", { value }, label);
        const inner = (entry) => (entry.group ? make("optgroup", { label: entry.group }, entry.list.map(option)) : option(entry));
        select.replaceChildren(...list.map(inner));
    }
    if (select.value !== String(picked ?? "")) select.value = picked ?? "";
}

const MINUS = "\u2212";

// Words of the server, which has numbers and arrows in ASCII as its files do, as a page writes them.
export const minus = (words) => words.replace(/(^|[\s([])-(?=[\d.])/g, `$1${MINUS}`).replaceAll("->", "\u2192");

// A number with a true minus sign, at most `digits` decimals.
export function plain(value, digits = 2) {
    if (value === null || value === undefined || !Number.isFinite(value)) return "–";
    const text = value.toFixed(digits);
    return (Number(text) === 0 ? text.replace("-", "") : text).replace("-", MINUS);
}

// The same with its sign, as offsets are read.
export function signed(value, digits = 2) {
    const text = plain(value, digits);
    return value > 0 && Number(value.toFixed(digits)) > 0 ? `+${text}` : text;
}

// A number in so many places as it needs: light spans many decades.
export function light(value) {
    if (!Number.isFinite(value)) return "–";
    const size = Math.abs(value);
    if (size === 0) return "0";
    if (size >= 1e5 || size < 1e-4) return value.toExponential(2).replace(/-/g, MINUS);
    return plain(value, size >= 100 ? 1 : size >= 10 ? 2 : size >= 1 ? 3 : 4);
}

// As a person types it: no trailing zeros, no noise of binary fractions.
export const typed = (value) => (typeof value === "number" ? String(Number(value.toPrecision(9))) : String(value ?? ""));

// The same in so few places that a narrow field shows all of it, rounded; what is tiny keeps two digits.
export function rounded(value) {
    if (typeof value !== "number" || !Number.isFinite(value) || value === 0) return typed(value);
    const size = Math.abs(value);
    const text = size < 0.001 ? value.toPrecision(2) : value.toFixed(size < 10 ? 4 : size < 100 ? 3 : size < 1000 ? 2 : 1);
    return typed(Number(text));
}

// The end of a long path.
export function shortened(path) {
    const parts = path.split(/[\\/]/);
    return path.length > 24 && parts.length > 2 ? `\u2026/${parts.slice(-2).join("/")}` : path;
}

// Names of files that begin alike: the first whole, of each other what differs.
export function together(names) {
    const [first, ...others] = names;
    const end = (name) => {
        let at = 0;
        while (at < name.length && name[at] === first[at]) at += 1;
        // From the part of the name on in which they begin to differ.
        const mark = Math.max(name.lastIndexOf("_", at), name.lastIndexOf("-", at));
        return mark > 0 ? `\u2026${name.slice(mark)}` : name;
    };
    return [first, ...others.map(end)].join(", ");
}

export const same = (a, b) => JSON.stringify(a) === JSON.stringify(b);

export const clamp = (value, low, high) => Math.min(Math.max(value, low), high);

export const titled = (text) => text.charAt(0).toUpperCase() + text.slice(1);
