// Talk with the server: requests, answers, refusals, and whether it is there.

// What the server refused, in its own words.
export class Refused extends Error {
    constructor(status, body) {
        super(body.error ?? `the server refused this (${status})`);
        this.status = status;
        this.body = body;
    }
}

// No server answered.
export class Lost extends Error {}

let onLost = () => {};

// Whom to tell when no server answers.
export function whenLost(tell) {
    onLost = tell;
}

const query = (values) => {
    const given = Object.entries(values ?? {}).filter(([, value]) => value !== null && value !== undefined);
    return given.length ? `?${new URLSearchParams(given)}` : "";
};

async function answer(path, options) {
    let response;
    try {
        response = await fetch(`api/${path}`, options);
    } catch {
        onLost();
        throw new Lost("the server does not answer");
    }
    if (response.ok) return response;
    const body = await response.json().catch(() => ({}));
    throw new Refused(response.status, body);
}

export const get = async (path, values) => (await answer(path + query(values))).json();

// Bytes, with what the headers say of them.
export async function bytes(path, values) {
    const response = await answer(path + query(values));
    return { headers: response.headers, bytes: await response.arrayBuffer() };
}

export async function post(path, body, options) {
    const headers = { "content-type": "application/json" };
    return (await answer(path, { ...options, method: "POST", headers, body: JSON.stringify(body) })).json();
}

export async function send(path, values, file) {
    const headers = { "content-type": "application/octet-stream" };
    return (await answer(path + query(values), { method: "POST", headers, body: file })).json();
}

// Runs `work` for the newest call only: one at a time, and of those that wait, the last.
export function newest(work) {
    let running = false;
    let waiting = null;
    const run = async (values) => {
        running = true;
        try {
            await work(...values);
        } finally {
            running = false;
            if (waiting) {
                const next = waiting;
                waiting = null;
                run(next);
            }
        }
    };
    return (...values) => {
        if (running) waiting = values;
        else run(values);
    };
}

// Tells of what happens at the server. The browser itself connects again after a break; `opened` is told each time.
export function listen({ opened, happened, broken }) {
    let source = null;
    let again = null;
    const open = () => {
        source?.close();
        source = new EventSource("api/events");
        source.onopen = opened;
        source.onmessage = (event) => happened(JSON.parse(event.data));
        source.onerror = () => {
            broken();
            // A refusal ends the stream for good; ask anew, as the server may be started again.
            clearTimeout(again);
            if (source.readyState === EventSource.CLOSED) again = setTimeout(open, 1000);
        };
    };
    open();
}

// Whether a server answers at this address: "good", "other" (one that does not know the address), "none".
export async function knock() {
    try {
        const response = await fetch("api/state", { cache: "no-store" });
        return response.ok ? "good" : "other";
    } catch {
        return "none";
    }
}
