// Starts the page, and brings it back when the server was away.

import * as aloneLine from "./alone.js";
import * as compare from "./compare.js";
import * as curve from "./curve.js";
import * as grid from "./grid.js";
import * as gridHeads from "./grid_heads.js";
import * as keys from "./keys.js";
import * as layout from "./layout.js";
import * as live from "./live.js";
import * as panel from "./panel.js";
import * as shots from "./shots.js";
import * as amount from "./shots_amount.js";
import * as cubes from "./shots_cubes.js";
import * as drag from "./shots_drag.js";
import * as list from "./shots_list.js";
import * as newShot from "./shots_new.js";
import * as notes from "./shots_notes.js";
import * as stage from "./stage.js";
import * as pins from "./scope_pins.js";
import * as scopes from "./scope_panel.js";
import * as steps from "./steps.js";
import "./bars.js";
import "./history.js";
import "./readings.js";
import "./scopes.js";
import "./shots_order.js";
import { asked, happened } from "./edits.js";
import { knock, listen, whenLost } from "./server.js";
import { change, fault, fromAddress, lower, raise, state } from "./state.js";
import { everything, readLook, readShots, readShow, settle, settleView } from "./work.js";

// As often as a server that is away is looked for.
const AGAIN = 1000;

async function load(wanted) {
    const show = await readShow();
    await readShots();
    const pick = settle(wanted, show);
    change({ pick });
    layout.stored(show.page);
    change(settleView(state.view, show, pick), "view");
    await readLook();
    await shots.readShot();
    asked(state.look);
    everything();
}

let looking = null;

// Once the server is missed, it is looked for until it answers.
function lost() {
    if (looking) return;
    change({ link: "lost" });
    raise({ id: "lost", grave: true, words: "The server does not answer. Start it again at the same address, and this page goes on by itself; edits that were not saved are offered then.", choices: [] });
    looking = setTimeout(look, AGAIN);
}

async function look() {
    const found = await knock();
    looking = null;
    if (found === "good") return void back();
    if (found === "other") {
        raise({ id: "lost", grave: true, words: "A server answers here that does not know this address: open the page at the address that it printed.", choices: [] });
    }
    looking = setTimeout(look, AGAIN);
}

async function back() {
    try {
        await load(state.pick);
    } catch {
        return lost();
    }
    lower("lost");
    change({ link: "good" });
}

async function hears(event) {
    if (/^shots?$/.test(event.kind)) return shots.happened(event);
    await happened(event);
    // The show's files have the shots, too.
    return /^(show|all)$/.test(event.kind) ? shots.readShot() : undefined;
}

function hear() {
    listen({
        opened: () => change({ link: "good" }),
        happened: (event) => hears(event).catch(() => {}),
        broken: lost,
    });
}

async function start() {
    const { pick, view } = fromAddress();
    change(view, "view");
    for (const part of [layout, aloneLine, keys, stage, compare, grid, gridHeads, curve, panel, shots, list, amount, cubes, newShot, drag, notes, steps, scopes, pins, live]) part.begin();
    layout.recall();
    whenLost(lost);
    try {
        await load(pick);
    } catch (error) {
        fault("look", error.message);
    }
    hear();
}

start();
