// Has the page of `rushlight preview` count a frame, and writes what it counted and by what into a folder.
//
//     node scopes.mjs RUSHLIGHT SHOW FRAME FOLDER
//
// FRAME is a picture of the camera's signal. `preview_scopes.py` beside this folder runs it, and counts again.

import { writeFileSync } from "node:fs";
import { join, resolve } from "node:path";
import { Studio, assert, becomes, equal, settled, state, stays, until } from "./harness.mjs";

const [rushlight, show, frame, folder] = process.argv.slice(2);
const studio = new Studio(resolve(rushlight), resolve(show));

// An array of the page's state, as bytes: `path` leads to it. A table of a nudge is made by the page.
async function take(page, name, path, nudge) {
    const text = await page.evaluate(async ([path, nudge]) => {
        const { state } = await import("./state.js");
        const found = path.reduce((value, key) => value[key], { state, coarse: window.coarse });
        const array = nudge === undefined ? found : found.table(nudge);
        const bytes = new Uint8Array(array.buffer, array.byteOffset, array.byteLength);
        let text = "";
        for (let i = 0; i < bytes.length; i += 8192) text += String.fromCharCode(...bytes.subarray(i, i + 8192));
        return btoa(text);
    }, [path, nudge]);
    writeFileSync(join(folder, name), Buffer.from(text, "base64"));
}

// The pixel under the cross by a key, and a rectangle by the pointer.
async function pins(page) {
    const { across, down } = await state(page, ({ frame }) => ({ across: frame.width, down: frame.height }));
    const middle = { x: Math.floor(across / 4), y: Math.floor(down / 4) };
    await page.evaluate(async (middle) => (await import("./stage.js")).crossTo(middle), middle);
    await page.focus("#picture");
    await page.keyboard.press("c");
    await page.waitForSelector("#pin-list li");
    const { left, top, width } = await page.evaluate(() => document.getElementById("canvas").getBoundingClientRect().toJSON());
    const at = (x, y) => [left + x * width, top + (y * width * down) / across];
    await page.keyboard.down("Shift");
    await page.mouse.move(...at(0.4, 0.7));
    await page.mouse.down();
    await page.mouse.move(...at(0.42, 0.72));
    await page.mouse.move(...at(0.45, 0.75));
    await page.mouse.up();
    await page.keyboard.up("Shift");
    await becomes(page, ({ pins, pinned }) => pins.length === 2 && pinned.length === 2, "two pins are read", COUNTING);
    await until(async () => (await page.$$("#pin-list li")).length === 2 && (await page.$$(".pin")).length === 2, "two pins are listed and marked");
    const cross = await state(page, ({ cross }) => cross);
    equal(cross, middle, "the cross after a drag of a rectangle");
    const { pinned } = await state(page, ({ pinned }) => ({ pinned }));
    writeFileSync(join(folder, "pins.json"), JSON.stringify(pinned));
    // Every one is there again when the frame is.
    await page.reload();
    await becomes(page, ({ pins, pinned }) => pins.length === 2 && pinned.length === 2, "pins after a reload", COUNTING);
    for (let i = 3; i <= 9; i += 1) {
        await page.evaluate(async (y) => (await import("./stage.js")).crossTo({ x: 10, y }), i);
        await page.focus("#picture");
        await page.keyboard.press("c");
    }
    await page.waitForFunction(() => /There are 8 pins/.test(document.getElementById("pins-fault").textContent));
    for (let i = 8; i > 0; i -= 1) await page.click(`#pin-list li:nth-child(${i}) button`);
    await until(async () => (await page.$$("#pin-list li")).length === 0, "every pin is removed");
}

// Scopes that are put away while their count waits for the picture to rest, and asked for again.
async function hidden(page) {
    const put = (shown) => page.evaluate((shown) => {
        for (const scope of document.querySelectorAll("[id^=scope-][type=checkbox]")) if (scope.checked !== shown) scope.click();
    }, shown);
    await page.evaluate(async () => {
        const { nudge } = await import("./stage.js");
        nudge(0.25);
    });
    await becomes(page, ({ counted }) => counted.nudge === 0.25 && counted.every > 1, "a few pixels are counted first", COUNTING);
    await put(false);
    await stays(() => state(page, ({ counted }) => counted.every));
    await stays(() => page.wrongs.length);
    assert(page.wrongs.length === 0, page.wrongs.join("\n"));
    await put(true);
    await becomes(page, ({ counted }) => counted.nudge === 0.25 && counted.every === 1 && Object.keys(counted.kinds).length === 3, "scopes that are asked for again are counted", COUNTING);
    await page.keyboard.press("0");
    await becomes(page, ({ counted }) => counted.nudge === 0 && counted.every === 1, "that nudge is taken back", COUNTING);
}

// Each scope as a file.
async function files(page) {
    await whole(page, frame);
    for (const scope of ["stops", "display", "histogram", "chromaticity"]) {
        const [download] = await Promise.all([page.waitForEvent("download"), page.click(`[data-scope=${scope}] button`)]);
        assert(download.suggestedFilename() === `night_a_onset_${scope}.png`, download.suggestedFilename());
        await download.saveAs(join(folder, `${scope}.png`));
    }
}

// Millions of pixels take their time in software.
const COUNTING = 300000;

const whole = (page, id) => becomes(page, ({ counted, frame }) => frame?.id !== "1" && counted?.frame === frame.id && counted.every === 1, `all pixels of ${id} are counted`, COUNTING);

// What was counted, and by which tables.
async function keep(page, name, from = ["state", "counted"]) {
    const { kinds, every, nudge } = await page.evaluate(async (from) => {
        const { state } = await import("./state.js");
        const { kinds, every, nudge } = from.reduce((value, key) => value[key], { state, coarse: window.coarse });
        return { kinds: Object.fromEntries(Object.entries(kinds).map(([kind, { columns, rows }]) => [kind, { columns, rows }])), every, nudge };
    }, from);
    for (const kind of Object.keys(kinds)) await take(page, `${name}-${kind}`, [...from, "kinds", kind, "bins"]);
    await take(page, `${name}-cube`, ["state", "codes", "nodes"]);
    await take(page, `${name}-nudge`, ["state", "curve", "camera"], nudge);
    writeFileSync(join(folder, `${name}.json`), JSON.stringify({ kinds, every, nudge }));
}

try {
    await studio.start();
    await studio.browse();
    const page = await studio.open();
    page.setDefaultTimeout(COUNTING);
    // What is counted while something moves is soon replaced: it is kept here.
    await page.evaluate(async () => {
        const { drawn } = await import("./state.js");
        drawn(({ counted }) => { if (counted?.every > 1) window.coarse = counted; });
    });
    await page.click("#scopes-choose summary");
    for (const scope of ["histogram", "chromaticity"]) await page.check(`#scope-${scope}`);
    await page.setInputFiles("#frame-file", frame);
    await whole(page, frame);
    await settled(page);
    await whole(page, frame);
    for (const table of ["stops", "light", "nits"]) await take(page, `scales-${table}`, ["state", "scales", table]);
    writeFileSync(join(folder, "scales.json"), await page.evaluate(async () => {
        const { state } = await import("./state.js");
        return JSON.stringify(state.scales, (_, value) => (ArrayBuffer.isView(value) ? undefined : value));
    }));
    await keep(page, "rest");
    await keep(page, "coarse", ["coarse"]);
    await page.focus("#picture");
    for (const key of ["Shift+ArrowUp", "ArrowDown"]) await page.keyboard.press(key);
    await becomes(page, ({ counted }) => counted.nudge === 0.75 && counted.every === 1, "a nudged picture is counted", COUNTING);
    await keep(page, "nudged");
    await page.keyboard.press("0");
    await becomes(page, ({ counted }) => counted.nudge === 0 && counted.every === 1, "the nudge is taken back", COUNTING);
    await hidden(page);
    await pins(page);
    await files(page);
    // How often it is counted while the exposure is nudged all the time.
    const pace = await page.evaluate(async () => {
        const { state } = await import("./state.js");
        const { nudge } = await import("./stage.js");
        const [start, seen] = [performance.now(), new Set()];
        for (let i = 0; performance.now() - start < 4000; i += 1) {
            nudge(((i % 16) - 8) / 8);
            await new Promise((done) => requestAnimationFrame(done));
            seen.add(state.counted);
        }
        return { each: seen.size / ((performance.now() - start) / 1000), every: state.counted.every, pixels: state.counted.pixels };
    });
    writeFileSync(join(folder, "pace.json"), JSON.stringify(pace));
    assert(page.wrongs.length === 0, page.wrongs.join("\n"));
} catch (error) {
    console.error(error.stack);
    process.exitCode = 1;
} finally {
    await studio.end();
}
