// Several pictures at once: each against the exact path of its own display, camera and version, and all of it by keys.

import { LIMIT, bt1886ToSrgb } from "./picture.mjs";
import { assert, becomes, equal, says, settled, state, until } from "./harness.mjs";
import { drop, png } from "./trouble.mjs";

// SMPTE ST 2084:2014, 5.2: a PQ signal to nits.
function pq(signal) {
    const [m1, m2, c1, c2, c3] = [2610 / 16384, (2523 / 4096) * 128, 3424 / 4096, (2413 / 4096) * 32, (2392 / 4096) * 32];
    const e = Math.min(Math.max(signal, 0), 1) ** (1 / m2);
    return 10000 * (Math.max(e - c1, 0) / (c2 - c3 * e)) ** (1 / m1);
}

// ITU-R BT.2087-0, annex 2: linear BT.2020 to BT.709, to four digits.
const TO_709 = [[1.6605, -0.5876, -0.0728], [-0.1246, 1.1329, -0.0083], [-0.0182, -0.1006, 1.1187]];

const toSrgb = (light) => (light <= 0.0031308 ? 12.92 * light : 1.055 * light ** (1 / 2.4) - 0.055);

// What the page says it does to HDR: diffuse white, 203 nits, is the screen's white, and what is brighter is clipped.
const pqToSrgb = (rgb) => {
    const light = rgb.map((v) => pq(v) / 203);
    const shown = TO_709.map((row) => toSrgb(Math.min(Math.max(row.reduce((sum, v, i) => sum + v * light[i], 0), 0), 1)));
    // Where a channel is about to clip at the screen's white, the cells of the cube cut the corner: nothing is asked of those.
    return shown.some((v) => v > 0.93 && v < 1) ? null : shown;
};

// ITU-R BT.2100-2: luminance of BT.2020 light.
const nitsOf = (rgb) => [0.2627, 0.678, 0.0593].reduce((sum, weight, i) => sum + weight * pq(rgb[i]), 0);

// Until the tiles have all that they need, and nothing is asked any more.
export async function complete(page, count) {
    await until(async () => {
        const words = await page.$$eval(".tile .reading", (nodes) => nodes.map((node) => (node.classList.contains("old") ? "" : node.textContent)));
        return words.length === count && words.every((w) => /stops|no light/.test(w));
    }, `${count} tiles with their readings`);
    // A reading does not wait for the cube by which its tile is drawn.
    await until(() => page.evaluate(async () => (await import("./grid.js")).tiles().every(({ frame, cube, curve }) => frame && cube && curve)), "tiles with their cubes");
    await page.evaluate(() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done))));
}

// Pixels of a tile on the canvas, and the signals that they stand for: the mean of the frame's pixels under each, worked out here.
async function pixels(page, index, count = 150) {
    return page.evaluate(async ({ index, count }) => {
        const { tiles } = await import("./grid.js");
        const { rect, frame } = tiles()[index];
        const canvas = document.getElementById("canvas");
        const copy = document.createElement("canvas");
        Object.assign(copy, { width: canvas.width, height: canvas.height });
        const context = copy.getContext("2d", { willReadFrequently: true });
        context.drawImage(canvas, 0, 0);
        const { data } = context.getImageData(0, 0, copy.width, copy.height);
        const found = { pixels: [], signals: [], rect, size: [frame.width, frame.height] };
        for (let i = 0; i < count; i += 1) {
            const [x, y] = [Math.floor(((i * 0.754877666) % 1) * rect.width), Math.floor(((i * 0.569840291) % 1) * rect.height)];
            const span = (at, size, extent) => {
                const from = Math.min(Math.floor((at * size) / extent), size - 1);
                return [from, Math.max(Math.floor(((at + 1) * size) / extent), from + 1)];
            };
            const [left, right] = span(x, frame.width, rect.width);
            const [top, bottom] = span(y, frame.height, rect.height);
            const sum = [0, 0, 0];
            for (let row = top; row < bottom; row += 1) {
                for (let column = left; column < right; column += 1) for (const c of [0, 1, 2]) sum[c] += frame.signal[4 * (row * frame.width + column) + c];
            }
            found.signals.push(sum.map((v) => v / (65535 * (right - left) * (bottom - top))));
            const at = 4 * ((y + rect.top) * copy.width + x + rect.left);
            found.pixels.push([...data.slice(at, at + 3)]);
        }
        return found;
    }, { index, count });
}

function near({ pixels }, wanted, words) {
    const found = { pixels: pixels.filter((_, i) => wanted[i]) };
    wanted = wanted.filter(Boolean);
    assert(new Set(found.pixels.map(String)).size > 40, `${words}: the tile is empty`);
    const far = Math.max(...found.pixels.flatMap((pixel, i) => pixel.map((v, c) => Math.abs(v - 255 * Math.min(Math.max(wanted[i][c], 0), 1)))));
    assert(far <= LIMIT, `${words}: a pixel is ${far.toFixed(2)} code values from the exact path`);
    return far;
}

const outs = (colours) => colours.map((colour) => colour.out);

// An SDR and an HDR display side by side; what was done to each is said, and a pixel is read by its own display.
export async function displays(studio, page) {
    await page.check("[name=mode][value=grid]");
    await page.selectOption("#grid-of", "displays");
    await complete(page, 2);
    await settled(page);
    const [sdr, hdr] = [await pixels(page, 0), await pixels(page, 1)];
    const far = Math.max(
        near(sdr, outs(studio.probe(studio.show, sdr.signals)).map((rgb) => rgb.map(bt1886ToSrgb)), "the SDR tile"),
        near(hdr, outs(studio.probe(studio.show, hdr.signals, "hdr")).map(pqToSrgb), "the HDR tile"),
    );
    const did = await page.$$eval(".tile .did", (nodes) => nodes.map((node) => node.textContent));
    assert(/sRGB screen/.test(did[0]) && /HDR of 1000 nits, shown on an SDR screen/.test(did[1]), `what was done: ${did}`);
    equal(await page.$$eval(".tile select", (lists) => lists.map((list) => list.value)), ["hdr"], "the display of the second tile");
    // Under the pointer, tile by tile.
    for (const [index, display] of ["onset", "hdr"].entries()) {
        const box = await page.locator(".tile .view").nth(index).boundingBox();
        await page.mouse.move(box.x + box.width * 0.4, box.y + box.height * 0.6);
        await page.waitForFunction((words) => document.getElementById("reading-says").textContent.includes(words), `tile ${index + 1}`);
        const reading = await state(page, (state) => state.reading);
        const [colour] = studio.probe(studio.show, [reading.signal], display);
        equal(reading.probe.out, colour.out, `the pixel under the pointer in tile ${index + 1}`);
    }
    await page.mouse.move(5, 5);
    await page.waitForFunction(() => /^At the cross/.test(document.getElementById("reading-says").textContent));
    // The cross, by keys, is the same pixel in both, read by each display.
    const view = page.locator(".tile .view").nth(1);
    await view.focus();
    const cross = await state(page, (state) => state.cross);
    for (const key of ["ArrowRight", "Shift+ArrowUp"]) await page.keyboard.press(key);
    equal(await state(page, (state) => state.cross), { x: cross.x + 1, y: cross.y - 10 }, "the cross by keys");
    await complete(page, 2);
    const signal = await page.evaluate(async ({ x, y }) => {
        const { state } = await import("./state.js");
        return [0, 1, 2].map((i) => state.frame.signal[4 * (y * state.frame.width + x) + i] / 65535);
    }, { x: cross.x + 1, y: cross.y - 10 });
    const nits = nitsOf(studio.probe(studio.show, [signal], "hdr")[0].out);
    const shown = await page.locator(".tile .reading").nth(1).textContent();
    assert(shown.includes(`${nits.toFixed(nits < 10 ? 2 : 1)} nits`), `the HDR tile says ${shown}, and it is ${nits} nits`);
    return far;
}

// Frames of two cameras under one look: each by its own curve, with its own cross.
export async function frames(studio, page, seen) {
    const at = await state(page, (state) => state.cross);
    await drop(page, "boat.png", png(96, 64, (x, y) => [60 + x, 60 + 2 * y, 140]));
    await becomes(page, (state) => state.frame.width === 96);
    // At the same part of a frame of another size.
    equal(await state(page, (state) => state.cross), { x: Math.floor(((at.x + 0.5) * 96) / 640), y: Math.floor(((at.y + 0.5) * 64) / 360) }, "the cross in a small frame");
    await page.selectOption("#pick-frame", await page.$eval("#pick-frame option", (option) => option.value));
    await becomes(page, (state) => state.frame.width === 640);
    await page.selectOption("#grid-of", "frames");
    await complete(page, 1);
    await page.click("#grid-add");
    await page.locator(".tile").nth(1).waitFor();
    const lists = page.locator(".tile").nth(1).locator("select");
    await lists.nth(1).selectOption("b");
    await complete(page, 2);
    const boat = await pixels(page, 1);
    equal(boat.size, [96, 64], "the frame of the second tile");
    const far = near(boat, outs(studio.probe(studio.show, boat.signals, "onset", "b")).map((rgb) => rgb.map(bt1886ToSrgb)), "the frame of camera B");
    // Its cross is its own.
    const before = await state(page, (state) => state.cross);
    const box = await page.locator(".tile .view").nth(1).boundingBox();
    await page.mouse.click(box.x + box.width * 0.255, box.y + box.height * 0.755);
    await complete(page, 2);
    equal(await state(page, (state) => Object.values(state.grid.crosses)), [{ x: 24, y: 48 }], "the cross of the other frame");
    equal(await state(page, (state) => state.cross), before, "the cross of the picture");
    await seen("frames");
    // A nudge acts through each camera's curve.
    await page.click("#nudge-up");
    await says(page, "#nudge", "+0.25 stops");
    await complete(page, 2);
    const nudged = await page.locator(".tile .reading").nth(1).textContent();
    await page.click("#nudge-none");
    await says(page, "#nudge", "0.00 stops");
    await complete(page, 2);
    const plain = await page.locator(".tile .reading").nth(1).textContent();
    const stops = (words) => Number(/^[+\u2212]?[\d.]+/.exec(words)[0].replace("\u2212", "-"));
    assert(Math.abs(stops(nudged) - stops(plain) - 0.25) < 0.015, `a nudge of 0.25: from ${plain} to ${nudged}`);
    // An exposure cube lies over each by its own camera.
    await page.selectOption("#overlay", "ladder");
    await becomes(page, (state) => state.overlay?.kind === "ladder");
    await complete(page, 2);
    await until(async () => (await pixels(page, 1)).pixels.map(String).join() !== boat.pixels.map(String).join(), "the overlay over the second tile");
    equal(await page.$$eval(".tile .did", (nodes) => nodes.map((node) => node.textContent)), ["Overlay: EI 400", "Overlay: EI 100"], "the EI of each camera");
    await seen("frames-overlay");
    await page.selectOption("#overlay", "none");
    await complete(page, 2);
    // A shot brings its camera and its look, and what it has no frame of is said.
    const shot = page.locator(".tile").nth(1).locator("select").nth(2);
    await shot.selectOption("31-2");
    await page.waitForFunction(() => /^Shot 31-2: .*through Saltmarsh, day exterior/.test(document.querySelectorAll(".tile .did")[1].textContent));
    equal(await state(page, ({ grid }) => [grid.frames[0].camera, grid.frames[0].look, grid.frames[0].shot]), ["b", "day", "31-2"], "the tile of a shot");
    await shot.selectOption("");
    await becomes(page, (state) => state.grid.frames[0].shot === null && !state.grid.frames[0].look);
    await complete(page, 2);
    // As it was chosen, also after the page is loaded anew.
    await page.reload();
    await complete(page, 2);
    equal(await page.locator(".tile").nth(1).locator("select").nth(1).inputValue(), "b", "the camera of the second tile after a reload");
    await page.locator(".tile").nth(1).locator("button").click();
    await complete(page, 1);
    return far;
}

// One setting in steps, each against the same number in the file; one is taken by a key, and the others go.
export async function versions(studio, page) {
    await page.selectOption("#grid-of", "versions");
    await complete(page, 1);
    const field = await page.$$eval("#series-of option", (options) => options.find((o) => /^Exposure: Stops/i.test(o.textContent)).value);
    await page.selectOption("#series-of", field);
    await page.fill("#series-low", "-2");
    await page.fill("#series-high", "1");
    await page.fill("#series-count", "4");
    await page.press("#series-count", "Enter");
    await complete(page, 5);
    const now = await state(page, (state) => state.look.steps.find((s) => s.do === "exposure").values.stops);
    const names = await page.$$eval(".tile .name", (nodes) => nodes.map((node) => node.textContent));
    const written = (v) => v.toFixed(1).replace("-", "\u2212");
    equal(names, ["As it is now", ...[-2, -1, 0, 1].map((v) => `${written(v)} exposure`)], "the names of the versions");
    equal(await page.$$eval(".tile .name", (nodes) => nodes.at(-1).title), `Exposure ${written(now)} \u2192 1.0 stops`, "the whole of it");
    // The button stays where it is, whatever setting is chosen.
    const place = () => page.$eval("#series-make", (button) => button.getBoundingClientRect().toJSON());
    const before = await place();
    for (const other of await page.$$eval("#series-of option", (options) => options.map((o) => o.value))) {
        await page.selectOption("#series-of", other);
        equal(await place(), before, `the button Make for setting ${other}`);
    }
    await page.selectOption("#series-of", field);
    // The same once more holds nothing, and that is said.
    const held = await state(page, (state) => state.look.held.map((h) => h.id));
    await page.fill("#series-low", "-2");
    await page.fill("#series-high", "1");
    await page.press("#series-count", "Enter");
    await page.waitForFunction(() => /^4 of them are there already/.test(document.getElementById("grid-says").textContent));
    equal(await state(page, (state) => state.look.held.map((h) => h.id)), held, "the versions that are held");
    const is = async (index, value) => {
        const show = studio.aside(`version ${index} ${value}`, (text) => text.replace(/^stops = -[\d.]+/m, `stops = ${value.toFixed(1)}`));
        const found = await pixels(page, index);
        return near(found, outs(studio.probe(show, found.signals)).map((rgb) => rgb.map(bt1886ToSrgb)), `tile ${index + 1}, ${value} stops`);
    };
    const far = Math.max(await is(1, -2), await is(3, 0));
    // The look as it is now follows an edit, and the versions stay.
    await page.locator(".step[data-do=exposure] .field[data-key=stops] input[type=number]").fill("-0.6");
    await page.keyboard.press("Enter");
    await page.waitForFunction(() => [...document.querySelectorAll(".tile .name")].some((node) => node.title === "Exposure \u22120.6 \u2192 1.0 stops"));
    await complete(page, 5);
    await settled(page);
    await complete(page, 5);
    await is(0, -0.6);
    await is(3, 0);
    // A ninth is refused.
    await page.fill("#series-low", "-1.9");
    await page.fill("#series-count", "8");
    await page.press("#series-count", "Enter");
    await page.locator("#grid-fault").waitFor();
    assert(/over 8/.test(await page.textContent("#grid-fault")), await page.textContent("#grid-fault"));
    await page.locator(".tile .view").nth(4).focus();
    await page.keyboard.press("Delete");
    await complete(page, 4);
    await page.locator(".tile .view").nth(3).focus();
    await page.keyboard.press("Enter");
    await complete(page, 1);
    await becomes(page, (state) => state.look.held.length === 0 && state.look.steps.find((s) => s.do === "exposure").values.stops === 0);
    await page.focus("#picture");
    for (const stops of [-0.6, now]) {
        await page.keyboard.press("Control+z");
        await until(() => state(page, (s) => s.look.steps.find((step) => step.do === "exposure").values.stops).then((v) => v === stops), `undone to ${stops}`);
    }
    // A graphics card that goes and comes back: the tiles are there again.
    await page.click("#hold-now");
    await complete(page, 2);
    const whole = await pixels(page, 1);
    await page.evaluate(() => {
        globalThis.lose = document.getElementById("canvas").getContext("webgl2").getExtension("WEBGL_lose_context");
        globalThis.lose.loseContext();
    });
    await page.waitForFunction(() => /lost the graphics card/.test(document.getElementById("picture-fault").textContent));
    await page.evaluate(() => globalThis.lose.restoreContext());
    await page.locator("#picture-fault").waitFor({ state: "hidden" });
    await until(async () => JSON.stringify((await pixels(page, 1)).pixels) === JSON.stringify(whole.pixels), "the tiles after the graphics card was lost");
    await page.click("#hold-none");
    await complete(page, 1);
    return far;
}
