// What the page must ask or tell, in bars under the top: conflicts, changes from outside, a server that is gone.

import { find, make } from "./dom.js";
import { drawn, lower } from "./state.js";

let shown = null;

function bar({ id, words, choices, grave }) {
    const buttons = choices.map(({ label, act }) => make("button", { type: "button", onclick: act }, label));
    const close = make("button", { type: "button", onclick: () => lower(id) }, "Close");
    return make("div", { class: `bar ${grave ? "grave" : ""}`, "data-id": id },
        make("p", {}, words), make("div", { class: "choices" }, choices.length ? buttons : id === "lost" ? [] : close));
}

drawn(({ bars }) => {
    if (bars === shown) return;
    shown = bars;
    find("bars").replaceChildren(...bars.map(bar));
});
