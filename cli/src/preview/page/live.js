// The live picture: one frame after the other, each asked for when the one before has been drawn. What is not drawn is counted.

import { clamp, find, plain, say, shortened, together } from "./dom.js";
import { put } from "./coloured.js";
import { colouring, finished, isShown } from "./stage.js";
import { Lost, bytes, post } from "./server.js";
import { lay } from "./layout.js";
import { open } from "./shots_new.js";
import { LIVE, change, drawn, fault, state } from "./state.js";
import { camera, readPixel, readShow, takeFrame } from "./work.js";

// Drawn frames over which latency and rate are told.
const OVER = 24;
// Milliseconds between readings of the pixel, between what is told of the rate, and between two requests to hold what is kept.
const READS = 250;
const TELLS = 250;
// A frame that is drawn in less lets the next one come meanwhile.
const QUICK = 60;
const HOLDS = 2000;
// Milliseconds for which it is said where a grab is.
const GRABBED = 12000;
// Between two frames with their signal, where the server colours them: so long, and so many frames. Scopes, pins and readings are of
// these.
const SIGNALS = 200;
const FEWEST = 3;
// Milliseconds to draw a frame, in the middle of so many, from which on the server colours the frames.
const SLOW = 30;
const JUDGED = 7;

// What is told of it; `report` is the server's.
const live = { report: null, drawn: 0, skipped: 0, last: 0, late: [], at: [], slow: false, frozen: null, grabbed: null };

export const isLive = () => state.pick.frame === LIVE;
const here = () => state.show?.frames.some((f) => f.id === LIVE);

let running = null;
let waiting = null;
let lastReading = 0;
// When a frame with its signal came last, the number of one that is shown since then by its colours alone, and how many were.
let signalAt = 0;
let newer = null;
let ahead = 0;
let lastTold = 0;
// The frame before was drawn too: what lies between was dropped.
let follows = false;

const told = (values) => {
    Object.assign(live, values);
    change({ live });
};

// One frame of the server; none where it had no newer one in time.
async function ask(values) {
    const got = await bytes("live/frame", values);
    const report = JSON.parse(got.headers.get("x-live") ?? "null");
    if (report) live.report = report;
    if (!got.bytes.byteLength) return null;
    const [width, height, number, taken, table] = ["width", "height", "number", "taken", "table"].map((name) => Number(got.headers.get(`x-${name}`)));
    const frame = { id: LIVE, width, height, number, taken, channels: 3, says: "the signal of the camera, as it comes", coloured: null, signal: null };
    if (got.headers.get("x-signal") === "1") frame.signal = new Uint16Array(got.bytes, 0, 3 * width * height);
    if (table) frame.coloured = { table, divide: values.divide, pixels: new Uint8ClampedArray(got.bytes, frame.signal?.byteLength ?? 0, 4 * width * height) };
    return frame;
}

// Where drawing takes long, the server colours the frames; their signal comes along as often as it is read.
function asks(values) {
    const wanted = live.slow ? colouring() : null;
    if (!wanted) return ask(values);
    const colours = "after" in values && (performance.now() - signalAt < SIGNALS || ahead < FEWEST);
    return ask({ ...values, by: wanted.table, divide: wanted.divide, colours: colours || null });
}

// The next frame is to have its signal.
function withSignal() {
    [signalAt, ahead] = [0, FEWEST];
}

// A frame of colours alone: it is seen, and what is read is still of the frame before. Not where it is not wanted any more.
async function drawColours(frame) {
    const { width, height, id } = state.frame;
    if (id !== LIVE || width !== frame.width || height !== frame.height || !isShown(frame)) {
        withSignal();
        return;
    }
    put(frame);
    [newer, ahead] = [frame.number, ahead + 1];
    await finished();
    wasDrawn(frame);
}

// Puts a frame into the picture, and waits until it has been drawn.
async function draw(frame) {
    if (!frame.signal) return drawColours(frame);
    [signalAt, newer, ahead] = [performance.now(), null, 0];
    // A frame in whose place this one comes is never drawn: who waits for it goes on.
    waiting?.resolve();
    const done = new Promise((resolve) => { waiting = { frame, resolve }; });
    takeFrame(frame);
    const now = performance.now();
    if (now - lastReading > READS) {
        lastReading = now;
        readPixel();
    }
    await done;
}

drawn(() => {
    if (!waiting || state.frame !== waiting.frame) return;
    const { frame, resolve } = waiting;
    waiting = null;
    finished().then(() => {
        resolve();
        wasDrawn(frame);
    });
}, { each: true });

function wasDrawn(frame) {
    if (live.frozen || !running) return;
    live.drawn += 1;
    if (follows) live.skipped += frame.number - live.last - 1;
    [live.last, follows] = [frame.number, true];
    live.late = [...live.late.slice(1 - OVER), Date.now() - frame.taken];
    live.at = [...live.at.slice(-OVER), performance.now()];
    if (live.at.at(-1) - lastTold > TELLS) {
        lastTold = live.at.at(-1);
        change({ live });
    }
}

const pause = (time) => new Promise((resolve) => { setTimeout(resolve, time); });

const visible = () => new Promise((resolve) => {
    if (!document.hidden) resolve();
    else document.addEventListener("visibilitychange", () => resolve(), { once: true });
});

let times = [];

// Slow is who takes long for most frames: a browser without a graphics card.
function judge(took) {
    times = [...times.slice(1 - JUDGED), took];
    if (times.length === JUDGED && middle(times) > SLOW) live.slow = true;
}

async function run(mine) {
    let last = null;
    let asked = null;
    let quick = true;
    while (running === mine) {
        if (document.hidden || live.frozen) {
            // What is not looked at is not missed.
            [last, asked, follows] = [null, null, false];
            await (document.hidden ? visible() : pause(50));
            continue;
        }
        try {
            const frame = await (asked ?? asks({ after: last ?? 0 }));
            asked = null;
            if (running !== mine) return;
            fault("live", null);
            if (live.frozen) continue;
            if (!frame) {
                change({ live });
                continue;
            }
            last = frame.number;
            // The next one comes while this one is drawn; where that takes long it would be old by then.
            if (quick) asked = asks({ after: last });
            asked?.catch(() => {});
            const start = performance.now();
            await draw(frame);
            const took = performance.now() - start;
            quick = took < QUICK;
            if (!live.slow) judge(took);
        } catch (error) {
            [last, asked, follows] = [null, null, false];
            if (!(error instanceof Lost)) fault("live", error.message);
            await pause(1000);
        }
    }
}

drawn(() => {
    const wanted = here() && isLive();
    if (wanted && !running) {
        running = {};
        follows = false;
        Object.assign(live, { late: [], at: [] });
        run(running);
    } else if (!wanted && running) {
        running = null;
        if (live.frozen) go();
    }
});

// ------------------------------------------------------------------------------------------------- freeze, look back, grab

// The number of the frame in sight.
const seen = () => newer ?? state.frame.number;

async function freeze() {
    const { report, number } = { report: await post("live/hold", { on: true }), number: seen() };
    const kept = report.kept ?? { first: number, last: number };
    told({ report, frozen: { number: clamp(number, kept.first, kept.last), kept } });
    back(live.frozen.number);
}

function go() {
    told({ frozen: null, late: [], at: [] });
    withSignal();
    post("live/hold", { on: false }).catch(() => {});
}

export async function freezeOrGo() {
    if (!running || !state.frame?.number) return;
    try {
        if (live.frozen) go();
        else await freeze();
        fault("live", null);
    } catch (error) {
        fault("live", error.message);
    }
}

// As long as it is frozen, what is kept stays.
setInterval(() => live.frozen && post("live/hold", { on: true }).catch(() => {}), HOLDS);

let wanted = null;
let fetching = false;

// Shows a frame that is kept; of many that are asked for, the newest.
async function back(number) {
    wanted = number;
    if (fetching) return;
    fetching = true;
    try {
        while (wanted !== null && live.frozen) {
            const asked = wanted;
            wanted = null;
            const frame = await asks({ number: asked });
            if (!live.frozen) break;
            told({ frozen: { ...live.frozen, number: asked } });
            await draw(frame);
            if (wanted === null) readPixel();
        }
        fault("live", null);
    } catch (error) {
        fault("live", error.message);
    } finally {
        fetching = false;
    }
}

export function step(by) {
    if (!live.frozen) return;
    const { first, last } = live.frozen.kept;
    const number = clamp((wanted ?? live.frozen.number) + by, first, last);
    if (number !== live.frozen.number) back(number);
}

let grabbedGoes = null;

export async function grab() {
    if (!running || !state.frame?.number) return;
    const { look, camera: of, display, shot } = state.pick;
    clearTimeout(grabbedGoes);
    told({ grabbed: null });
    try {
        const got = await post("live/grab", { number: seen(), look, camera: of, display, shot });
        await readShow();
        const [short, whole] = [shortened(got.folder), got.folder].map((folder) => `Grabbed into ${folder}: ${together(got.files)}`);
        told({ grabbed: short, grabbedWhole: whole });
        grabbedGoes = setTimeout(() => told({ grabbed: null }), GRABBED);
        fault("live", null);
    } catch (error) {
        fault("live", error.message);
    }
}

// A shot of the frame in view. One of the live picture stays in sight until the shot is made.
export async function newShot() {
    const needsShow = "A look that stands alone has no shots: open a show.";
    if (!isLive()) {
        if (!state.shots?.into.length) return void fault("frame", needsShow);
        layForm();
        return void open(true);
    }
    if (!running || !state.frame?.number) return;
    if (!state.shots?.into.length) return void fault("live", needsShow);
    const wasFrozen = live.frozen !== null;
    if (!wasFrozen) await freezeOrGo();
    if (!live.frozen) return;
    layForm();
    open(true, () => !wasFrozen && live.frozen && go());
}

const layForm = () => lay({ tab: "shots", alone: false, ...(state.layout.controls === "folded" ? { controls: "low" } : {}) });

// -------------------------------------------------------------------------------------------------------------- words

const middle = (values) => [...values].sort((a, b) => a - b)[values.length >> 1];
const shownRate = ({ at }) => (at.length > 1 ? (1000 * (at.length - 1)) / (at.at(-1) - at[0]) : 0);
const plural = (n, word) => `${n} ${word}${n === 1 ? "" : "s"}`;

const STATES = { opening: "Live: opening", running: "Live", silent: "Live: silent", away: "Live: away", ended: "Live: ended" };

function words() {
    const { report, late, skipped, frozen } = live;
    if (!report) return STATES.opening;
    const start = [STATES[report.state] ?? report.state, report.words].filter(Boolean).join(", ");
    if (frozen) return `Frozen · ${report.name}`;
    if (report.state !== "running") return `${start} · ${report.name}${report.state === "away" ? " · it is opened again every second" : ""}`;
    const rate = report.stated ? ` of ${plain(report.stated, 2)}` : "";
    // What must be read comes first: the end may be cut off, and is in the title.
    return [
        start,
        `${skipped} dropped`,
        report.breaks ? plural(report.breaks, "interruption") : null,
        `${plain(shownRate(live), 1)}${rate} frames/s drawn, ${plain(report.rate, 1)} come`,
        late.length ? `${plain(middle(late), 0)} ms late` : null,
        live.slow ? "coloured by the server" : null,
    ].filter(Boolean).join(" \u00b7 ");
}

drawn(() => {
    const strip = find("live");
    strip.hidden = !(here() && isLive());
    if (strip.hidden) return;
    const { report, frozen, skipped, drawn: count, late, grabbed } = live;
    say(find("live-says"), words());
    find("live-says").title = [words(), live.slow && "the server colours the frames, since this browser draws slowly",
        "late: from arrival to the screen; dropped: come, and not drawn here", report?.warning, ...(report?.notes ?? []), `the log curve and the range are those of ${camera()?.label ?? "the camera"}`,
        "what the device, the cable and the monitor add is not in the latency"].filter(Boolean).join("; ");
    strip.dataset.state = frozen ? "frozen" : report?.state ?? "opening";
    // For who measures.
    Object.assign(strip.dataset, { drawn: count, skipped, late: late.length ? middle(late) : "", breaks: report?.breaks ?? 0 });
    find("live-freeze").setAttribute("aria-pressed", Boolean(frozen));
    say(find("live-freeze"), frozen ? "Go on" : "Freeze");
    find("live-back").hidden = !frozen;
    if (frozen) {
        const at = find("live-at");
        Object.assign(at, { min: frozen.kept.first, max: frozen.kept.last });
        if (document.activeElement !== at) at.value = frozen.number;
        const rate = report.stated || report.rate || 24;
        say(find("live-ago"), `${plain((frozen.kept.last - frozen.number) / rate, 2)} s before`);
    }
    for (const id of ["live-freeze", "live-grab", "live-shot"]) find(id).disabled = !state.frame?.number;
    say(find("live-fault"), [report?.warning, state.errors.live].filter(Boolean).join("; "));
    say(find("live-grabbed"), grabbed ?? "");
    find("live-grabbed").title = live.grabbedWhole ?? "";
});

export function begin() {
    find("live-freeze").addEventListener("click", freezeOrGo);
    find("live-grab").addEventListener("click", grab);
    find("live-shot").addEventListener("click", newShot);
    find("live-at").addEventListener("input", (event) => back(Number(event.target.value)));
}
