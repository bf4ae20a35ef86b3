// What was done to the look since the server started, newest first, in the words of `diff`; a press goes back to it. Beside it the
// notes on the revisions that the document has.

import { find, make, minus, same, say, titled } from "./dom.js";
import { edit } from "./edits.js";
import { Lost, get, newest } from "./server.js";
import { change, drawn, fault, state } from "./state.js";

const read = newest(async () => {
    try {
        const { name } = state.look;
        const past = await get(`looks/${encodeURIComponent(name)}/history`);
        if (name === state.look.name) change({ past: { ...past, name } });
        fault("history", null);
    } catch (error) {
        if (!(error instanceof Lost)) fault("history", error.message);
    }
});

const time = (when) => {
    const date = new Date(when);
    const at = date.toLocaleTimeString("en-GB", { hour: "2-digit", minute: "2-digit" });
    return date.toDateString() === new Date().toDateString() ? at : `${date.toLocaleDateString("en-GB", { day: "numeric", month: "short" })}, ${at}`;
};

function words({ words, saved, is_first: isFirst }, more) {
    if (saved) return `Saved as revision ${saved.revision}${saved.note ? `: ${saved.note}` : ", without a note"}`;
    if (isFirst) return more ? `As it was before these; ${more} older are not listed` : "As it was when it was opened";
    return minus(titled(words.join("; "))) || "Comments or layout";
}

function entry(one, more) {
    const does = one.is_now ? "The look is as it was then" : one.is_undone ? "Undone: press to do it again up to here" : "Press to go back to here";
    const button = make("button", { type: "button", title: does, "data-id": one.id, "aria-current": one.is_now ? "true" : null, onclick: () => edit({ op: "go_to", id: one.id }) },
        make("span", { class: "says" }, time(one.when)), make("span", {}, words(one, more)), one.is_undone ? make("span", { class: "says" }, "undone") : null);
    return make("li", { class: one.is_undone ? "undone" : null }, button);
}

let shown = null;

drawn(({ layout, look, past, errors }) => {
    if (!look || layout.tab !== "history" || layout.controls === "folded") return;
    say(find("history-fault"), errors.history ?? "");
    if (past?.name !== look.name || past.version !== look.version) read();
    if (!past || past.name !== look.name || same(past, shown)) return;
    shown = past;
    const list = find("history-list");
    const held = list.contains(document.activeElement) ? document.activeElement.dataset.id : null;
    list.replaceChildren(...past.entries.map((one) => entry(one, past.more)));
    if (held) list.querySelector(`[data-id="${held}"]`)?.focus();
    find("history-notes").replaceChildren(...past.notes.map(({ revision, note }) => make("li", {}, `Revision ${revision}: ${note}`)));
    say(find("history-none"), past.notes.length ? "" : "The document has no notes yet. A save asks for one.");
});
