// What goes wrong: files changed by others, files that are none, a server that is gone.

import { deflateSync } from "node:zlib";
import { assert, becomes, equal, ready, settled, state, until } from "./harness.mjs";
import { agrees } from "./picture.mjs";

const stops = ".step[data-do=exposure] .field[data-key=stops] input[type=number]";

async function type(page, value) {
    await page.fill(stops, value);
    await page.press(stops, "Enter");
    await becomes(page, (state) => state.look.unsaved && state.look.steps.some((s) => s.values.stops === Number(value)));
}

const bar = (page, id) => page.locator(`.bar[data-id=${id}]`);

// Without edits of one's own, what changed on the disk is shown.
export async function outside(studio, page) {
    studio.write(studio.text().replace("stops = -1.1", "stops = -0.9"));
    await bar(page, "outside").waitFor();
    await page.waitForFunction((stops) => document.querySelector(stops).value === "-0.9", stops);
    await agrees(studio, page, studio.show, "after a change on the disk");
    await bar(page, "outside").getByText("Close").click();
}

// With edits of one's own: asked, and nothing is lost on either side.
export async function conflict(studio, page) {
    await type(page, "-1.3");
    const theirs = studio.text().replace("stops = -0.9", "stops = -0.7");
    studio.write(theirs);
    await bar(page, "conflict").waitFor();
    equal(await page.inputValue(stops), "-1.3", "one's own edit during a conflict");
    await bar(page, "conflict").getByText("Keep mine").click();
    await page.fill("#note", "ours");
    await page.click("#save");
    await bar(page, "conflict").getByText("Write mine over it").waitFor();
    equal(studio.text(), theirs, "the file during a conflict");
    await bar(page, "conflict").getByText("Take the file").click();
    await page.waitForFunction((stops) => document.querySelector(stops).value === "-0.7", stops);
    await agrees(studio, page, studio.show, "after taking the file's");
    await type(page, "-1.4");
    studio.write(theirs.replace("stops = -0.7", "stops = -0.6"));
    await bar(page, "conflict").waitFor();
    await page.click("#save");
    await bar(page, "conflict").getByText("Write mine over it").click();
    await until(() => /^stops = -1\.4\b/m.test(studio.text()), "one's own are written when told to");
    await bar(page, "conflict").waitFor({ state: "detached" });
}

export async function drop(page, name, bytes) {
    const data = await page.evaluateHandle(({ name, bytes }) => {
        const transfer = new DataTransfer();
        transfer.items.add(new File([new Uint8Array(bytes)], name));
        return transfer;
    }, { name, bytes: [...bytes] });
    await page.dispatchEvent("#picture", "dragover", { dataTransfer: data });
    assert(await page.isVisible("#drop"), "a file over the page is not welcomed");
    await page.dispatchEvent("#picture", "drop", { dataTransfer: data });
}

export function png(width, height, pixel) {
    const table = Array.from({ length: 256 }, (_, n) => [...Array(8)].reduce((c) => (c & 1 ? 0xedb88320 ^ (c >>> 1) : c >>> 1), n));
    const crc = (bytes) => (bytes.reduce((c, b) => table[(c ^ b) & 255] ^ (c >>> 8), -1) ^ -1) >>> 0;
    const number = (n) => [n >>> 24, (n >>> 16) & 255, (n >>> 8) & 255, n & 255];
    const chunk = (kind, data) => {
        const body = [...Buffer.from(kind), ...data];
        return [...number(data.length), ...body, ...number(crc(body))];
    };
    const rows = Array.from({ length: height }, (_, y) => [0, ...Array.from({ length: width }, (_, x) => pixel(x, y)).flat()]).flat();
    const head = [...number(width), ...number(height), 8, 2, 0, 0, 0];
    return Buffer.from([137, 80, 78, 71, 13, 10, 26, 10, ...chunk("IHDR", head), ...chunk("IDAT", [...deflateSync(Buffer.from(rows))]), ...chunk("IEND", [])]);
}

// A file that is no picture is refused in one line, and the picture stays; one that is a picture is shown.
export async function files(studio, page) {
    await drop(page, "broken.exr", Buffer.from("this is no picture"));
    await page.waitForFunction(() => /broken\.exr/.test(document.getElementById("frame-fault").textContent) && document.querySelector("#frame-fault.fault"));
    equal(await page.$$eval("#pick-frame option", (options) => options.length), 1, "frames after a bad file");
    await drop(page, "card.png", png(48, 32, (x, y) => [5 * x, 7 * y, 128]));
    await becomes(page, (state) => state.frame.width === 48);
    await page.locator("#frame-fault").waitFor({ state: "hidden" });
    await settled(page);
    const first = await page.$eval("#pick-frame option", (option) => option.value);
    await page.selectOption("#pick-frame", first);
    await becomes(page, (state) => state.frame.width === 640);
}

// A clip: which moment of it is asked, and asked again; what it does not have is said.
export async function clips(studio, page) {
    const before = await page.$$eval("#pick-frame option", (options) => options.length);
    await drop(page, "take.mov", studio.clip([40, 80, 120], [200, 60, 20]));
    await page.locator("#clip").waitFor();
    equal(await page.evaluate(() => document.activeElement.id), "clip-at", "the focus in the form of a clip");
    assert(/take\.mov/.test(await page.textContent("#clip")), "the form does not name the clip");
    const first = () => page.evaluate(async () => {
        const { state } = await import("./state.js");
        return state.frame.width === 64 && [...state.frame.signal.slice(0, 3)].map((v) => v / 257);
    });
    const at = async (seconds, wanted) => {
        await page.fill("#clip-at", seconds);
        await page.locator("#clip-take:enabled").waitFor();
        await page.press("#clip-at", "Enter");
        await until(async () => JSON.stringify(await first()) === JSON.stringify(wanted), `the frame at ${seconds} s is ${wanted}`);
    };
    await at("0", [40, 80, 120]);
    await at("1.5", [200, 60, 20]);
    await at("0.75", [40, 80, 120]);
    await page.fill("#clip-at", "99");
    await page.click("#clip-take");
    await page.waitForFunction(() => document.getElementById("frame-fault").textContent === "take.mov: it has no frame at 99 s");
    await page.click("#clip-close");
    await page.locator("#clip").waitFor({ state: "hidden" });
    equal(await page.$$eval("#pick-frame option", (options) => options.length), before + 3, "frames of a clip");
    await page.selectOption("#pick-frame", await page.$eval("#pick-frame option", (option) => option.value));
    await becomes(page, (state) => state.frame.width === 640);
}

// A graphics card that is taken away and given back: said, and the picture is there again.
export async function graphics(studio, page) {
    await page.check("[name=mode][value=look]");
    await settled(page);
    await page.evaluate(() => {
        globalThis.lose = document.getElementById("canvas").getContext("webgl2").getExtension("WEBGL_lose_context");
        globalThis.lose.loseContext();
    });
    await page.waitForFunction(() => /lost the graphics card/.test(document.getElementById("picture-fault").textContent));
    await page.evaluate(() => globalThis.lose.restoreContext());
    await page.locator("#picture-fault").waitFor({ state: "hidden" });
    await agrees(studio, page, studio.show, "after the graphics card was lost");
}

// The page says that the server is gone, goes on when it is there again, and offers what was not saved.
export async function restart(studio, page) {
    await type(page, "-1.7");
    await settled(page);
    await studio.kill();
    await bar(page, "lost").waitFor();
    await studio.start();
    await bar(page, "lost").waitFor({ state: "detached" });
    await bar(page, "left").waitFor();
    equal(await state(page, (state) => state.look.unsaved), false, "edits of a server that was ended");
    assert(/-1\.4 -> -1\.7 stops/.test(await bar(page, "left").textContent()), "what the edits change is not said");
    await bar(page, "left").getByText("Put them back").click();
    await bar(page, "left").waitFor({ state: "detached" });
    await page.waitForFunction((stops) => document.querySelector(stops).value === "-1.7", stops);
    await settled(page);
    await agrees(studio, page, studio.aside("put-back", (text) => text.replace("stops = -1.4", "stops = -1.7")), "after putting back");
    await page.click("#undo");
    await page.waitForFunction((stops) => document.querySelector(stops).value === "-1.4", stops);
    await ready(page);
}
