// A live picture in the page of `rushlight preview`: its colours against `apply`, its frames one by one, freeze, grab, and a
// source that goes away. The rate and the latency are told, never tested: they are those of the machine.
//
//     node live.mjs RUSHLIGHT SHOW TABLE [--shots FOLDER]

import { spawn, spawnSync } from "node:child_process";
import { readdirSync } from "node:fs";
import { join, resolve } from "node:path";
import { Studio, assert, becomes, choose, equal, folderFor, settled, state, until } from "./harness.mjs";

const [rushlight, show, , flag, folder] = process.argv.slice(2);
const shots = flag === "--shots" ? resolve(folder) : null;
if (shots) folderFor(shots);
// All pixels of a frame by software on a busy machine.
const COUNTING = 300000;
const studio = new Studio(resolve(rushlight), resolve(show));
const [WIDTH, HEIGHT, ACROSS, DOWN] = [960, 540, 16, 9];
const inFolder = (name) => join(studio.scratch, name);

function run(program, options, more = {}) {
    const done = spawnSync(program, options, { maxBuffer: 1 << 28, ...more });
    assert(done.status === 0, `${program}: ${done.stderr}`);
    return done.stdout;
}

// Patches all over the signal, greys among them, as a clip of `kind`.
function clip(name, ...kind) {
    const raw = Buffer.alloc(WIDTH * HEIGHT * 6);
    const patch = (i) => (i % 3 === 0 ? [i, i, i].map((v) => v / 143) : [(i * 37) % 144, (i * 59) % 144, (i * 83) % 144].map((v) => v / 143));
    for (let y = 0; y < HEIGHT; y += 1) {
        for (let x = 0; x < WIDTH; x += 1) {
            const rgb = patch(Math.floor((y * DOWN) / HEIGHT) * ACROSS + Math.floor((x * ACROSS) / WIDTH));
            rgb.forEach((v, c) => raw.writeUInt16LE(Math.round(v * 65535), 6 * (y * WIDTH + x) + 2 * c));
        }
    }
    const options = ["-v", "error", "-y", "-f", "rawvideo", "-pix_fmt", "rgb48le", "-video_size", `${WIDTH}x${HEIGHT}`, "-framerate", "24", "-i", "-"];
    run("ffmpeg", [...options, "-vf", `loop=11:1,${kind[0]}`, ...kind.slice(1), inFolder(name)], { input: raw });
    return inFolder(name);
}

// The middle of each patch, from the top.
const MIDDLES = Array.from({ length: ACROSS * DOWN }, (_, i) => [(i % ACROSS) + 0.5, Math.floor(i / ACROSS) + 0.5]
    .map((v, axis) => Math.floor((v * [WIDTH, HEIGHT][axis]) / [ACROSS, DOWN][axis])));

// What the page's picture has, read back from the graphics card, and what the plain canvas has for a browser without one, against what
// `apply` makes of the clip's first frame.
async function colours(page, file) {
    await choose(page, "#screen", "none");
    // Three panes are always drawn by the card; the upper right one is the look.
    await page.check("[name=mode][value=compare]");
    await settled(page);
    const got = await page.evaluate(async (middles) => {
        const { GAP } = await import("./picture.js");
        const gl = document.querySelector("#canvas").getContext("webgl2");
        const left = (gl.drawingBufferWidth - GAP) / 2 + GAP;
        const pixel = new Uint8Array(4);
        return middles.map(([x, y]) => {
            // Rows of the graphics card begin at the bottom.
            gl.readPixels(left + x, gl.drawingBufferHeight - 1 - y, 1, 1, gl.RGBA, gl.UNSIGNED_BYTE, pixel);
            return Array.from(pixel.subarray(0, 3));
        });
    }, MIDDLES);
    await page.check("[name=mode][value=look]");
    await page.waitForSelector("#coloured", { state: "visible" });
    await settled(page);
    got.push(...await page.evaluate((middles) => {
        const context = document.querySelector("#coloured").getContext("2d");
        return middles.map(([x, y]) => Array.from(context.getImageData(x, y, 1, 1).data.subarray(0, 3)));
    }, MIDDLES));
    const out = inFolder("applied.####.png");
    run(studio.rushlight, ["apply", studio.show, file, out, "--look", "night", "--camera", "a", "--display", "onset", "--depth", "16"]);
    const [first] = readdirSync(studio.scratch).filter((name) => /^applied.*png$/.test(name)).sort();
    const raw = run("ffmpeg", ["-v", "error", "-i", inFolder(first), "-f", "rawvideo", "-pix_fmt", "rgb48le", "-"]);
    const wanted = MIDDLES.map(([x, y]) => [0, 1, 2].map((c) => raw.readUInt16LE(6 * (y * WIDTH + x) + 2 * c) / 257));
    return Math.max(...got.flatMap((rgb, i) => rgb.map((v, c) => Math.abs(v - wanted[i % wanted.length][c]))));
}

const strip = (page) => page.$eval("#live", (node) => ({ ...node.dataset, words: node.querySelector("#live-says").textContent }));
const number = (page) => state(page, (s) => s.frame?.number);

async function live(page, ...more) {
    if (studio.server) await studio.kill();
    await studio.start(...more);
    if (!page) return studio.open();
    await page.reload();
    await becomes(page, (s) => s.frame?.number > 0);
    return page;
}

let page = null;
try {
    await studio.browse();
    // Of RGB, and of luma in the range and the matrix of a camera's output.
    const far = [];
    for (const [name, ...kind] of [["rgb.mov", "format=rgb48le", "-c:v", "png"], ["luma.mkv", "format=yuv444p10le", "-c:v", "ffv1", "-color_range", "tv", "-colorspace", "bt709"]]) {
        const file = clip(name, ...kind);
        page = await live(page, "--live", file);
        await becomes(page, (s) => s.pick.frame === "live");
        far.push(await colours(page, file));
        if (process.env.RUSHLIGHT_TELL) console.log(`${name}: ${far.at(-1)}`);
        assert(far.at(-1) < 1.05, `${name}: ${far.at(-1)} 8-bit code values from apply`);
    }
    await choose(page, "#screen", "srgb");

    // Every frame is drawn, or counted as dropped.
    page = await live(page, "--live", `testsrc2=s=${WIDTH}x${HEIGHT}:r=24`, "--live-format", "lavfi", "--grabs", inFolder("grabs"));
    await becomes(page, (s) => s.live?.late.length >= 6);
    const counted = () => page.evaluate(async () => {
        const { state } = await import("./state.js");
        const { drawn, skipped, last } = state.live;
        return { drawn, skipped, last, now: performance.now() };
    });
    const before = await counted();
    await page.waitForTimeout(5000);
    const after = await counted();
    const [drawn, skipped] = [after.drawn - before.drawn, after.skipped - before.skipped];
    equal(drawn + skipped, after.last - before.last, "frames drawn and frames dropped are the frames that came");
    const rate = (1000 * drawn) / (after.now - before.now);
    const { late } = await strip(page);
    // The scopes follow it, by fewer pixels than there are; a pin is read of what comes.
    await page.focus("#picture");
    await page.keyboard.press("c");
    await becomes(page, (s) => s.counted?.frame === "live" && s.pinned.length === 1 && s.pinned[0].frame === "live");
    const { every } = await state(page, (s) => s.counted);
    if (shots) await page.screenshot({ path: `${shots}/live.png` });

    // Frozen, the frame stays, and those before it can be seen.
    await page.keyboard.press("l");
    await becomes(page, (s) => s.live?.frozen !== null && s.frame.number === s.live?.frozen.number);
    const frozen = await number(page);
    await page.waitForTimeout(300);
    equal(await number(page), frozen, "the frozen frame");
    for (let i = 1; i <= 3; i += 1) {
        await page.keyboard.press(",");
        await until(async () => (await number(page)) === frozen - i, "a frame before");
    }
    await page.$eval("#live-at", (node) => { node.value = node.min; node.dispatchEvent(new Event("input")); });
    await becomes(page, (s) => s.frame.number === s.live?.frozen.kept.first);
    if (shots) await page.screenshot({ path: `${shots}/frozen.png` });
    const kept = await state(page, (s) => s.live?.frozen.kept.seconds);
    // Of a frozen one all pixels are counted, those that a program counts by itself.
    await becomes(page, (s) => s.counted.every === 1 && s.counted.number === s.frame.number, "all pixels are counted", COUNTING);
    const [counts, wanted] = await page.evaluate(async () => {
        const { state } = await import("./state.js");
        const { signal } = state.frame;
        const { bins, rows, columns } = state.counted.kinds.stops;
        const [counts, wanted] = [new Array(rows * 3).fill(0), new Array(rows * 3).fill(0)];
        for (let i = 0; i < rows * columns; i += 1) for (let c = 0; c < 3; c += 1) counts[3 * Math.floor(i / columns) + c] += bins[4 * i + c];
        for (let i = 0; i < signal.length; i += 1) wanted[3 * state.scales.bins[signal[i]] + (i % 3)] += 1;
        return [counts, wanted];
    });
    equal(counts, wanted, "stops of all pixels");
    const code = await page.evaluate(async () => {
        const { state } = await import("./state.js");
        const { frame, pins: [{ x, y }] } = state;
        return [0, 1, 2].map((c) => (frame.signal[3 * (y * frame.width + x) + c] / 65535) * 1023);
    });
    await until(() => state(page, (s) => s.pinned[0].camera_code_10).then((read) => read.every((v, c) => Math.abs(v - code[c]) < 0.51)), "the pin is that of the frame");

    // What is grabbed is the frame that is seen.
    await page.keyboard.press("k");
    await page.waitForFunction(() => document.querySelector("#live-grabbed").textContent.includes("grab-0001-log.tif"));
    equal(readdirSync(inFolder("grabs")).sort(), ["grab-0001-graded.tif", "grab-0001-log.tif"], "the still");
    const seen = await page.evaluate(async () => {
        const { state } = await import("./state.js");
        return Array.from(state.frame.signal.subarray(0, 3000));
    });
    const still = run("ffmpeg", ["-v", "error", "-i", join(inFolder("grabs"), "grab-0001-log.tif"), "-f", "rawvideo", "-pix_fmt", "rgb48le", "-"]);
    equal(Array.from(new Uint16Array(still.buffer, still.byteOffset, 3000)), seen, "the signal of the still");
    await page.keyboard.press("l");
    await becomes(page, (s) => s.live?.frozen === null && s.frame.number > 0 && s.live?.late.length > 2);
    assert((await number(page)) > frozen, "it goes on with what comes now");

    // Frozen while a frame waits to be drawn, and set going again.
    for (let i = 0; i < 3; i += 1) {
        await page.evaluate(() => {
            const draw = window.requestAnimationFrame;
            window.swift = () => { window.requestAnimationFrame = draw; };
            window.requestAnimationFrame = (work) => setTimeout(() => draw(work), 400);
        });
        await page.waitForTimeout(900);
        await page.keyboard.press("l");
        await becomes(page, (s) => s.live?.frozen !== null && s.frame.number === s.live?.frozen.number);
        await page.evaluate(() => window.swift());
        await page.keyboard.press("l");
        const stood = await number(page);
        await until(async () => (await number(page)) > stood + 1, "it goes on after it was frozen in the middle of a frame");
    }

    // A shot of the frame in view: it stays in sight until the shot is made, and the picture goes on through its correction.
    await page.focus("#picture");
    await page.keyboard.press("t");
    await becomes(page, (s) => s.live?.frozen !== null && s.frame.number === s.live?.frozen.number);
    const { number: chosen } = await state(page, (s) => s.frame);
    const signal21 = await page.evaluate(async () => Array.from((await import("./state.js")).state.frame.signal.subarray(0, 3000)));
    await page.fill("#new-scene", "21");
    await page.fill("#new-take", "1");
    if (shots) await page.screenshot({ path: `${shots}/new.png` });
    await page.click("#new-make");
    await becomes(page, (s) => s.pick.shot === "21-1" && s.pick.frame === "live" && s.live?.frozen === null);
    await until(async () => (await number(page)) > chosen, "it goes on");
    const made = run("ffmpeg", ["-v", "error", "-i", join(studio.folder, "stills/21-1_log.png"), "-f", "rawvideo", "-pix_fmt", "rgb48le", "-"]);
    equal(Array.from(new Uint16Array(made.buffer, made.byteOffset, 3000)), signal21, "the signal of the shot's still");
    if (shots) await page.screenshot({ path: `${shots}/shot.png` });
    await page.click("#tab-steps");

    // Another frame is looked at, and the live one again.
    const other = await state(page, (s) => s.show.frames.find((f) => f.id !== "live").id);
    await page.selectOption("#pick-frame", other);
    await becomes(page, (s) => s.frame.number === undefined);
    await page.waitForTimeout(300);
    equal(await state(page, (s) => s.frame.id), other, "the still stays");
    await page.selectOption("#pick-frame", "live");
    await becomes(page, (s) => s.frame.number > 0);

    // A source that goes away is said, and shown again when it is back.
    run("mkfifo", [inFolder("device")]);
    const send = (size, seconds) => spawn("ffmpeg", ["-nostdin", "-v", "error", "-y", "-re", "-f", "lavfi", "-i", `testsrc2=s=${size}:r=24:d=${seconds}`, "-c:v", "rawvideo", "-f", "nut", inFolder("device")], { stdio: "ignore" });
    send("320x180", 2);
    page = await live(page, "--live", inFolder("device"));
    await page.waitForFunction(() => document.querySelector("#live").dataset.state === "away");
    if (shots) await page.screenshot({ path: `${shots}/away.png` });
    send("640x360", 2);
    await becomes(page, (s) => s.frame.width === 640);
    assert((await strip(page)).breaks >= 1, "the interruption is counted");
    assert(page.wrongs.length === 0, page.wrongs.join("\n"));
    console.log(`live: colours within ${Math.max(...far).toFixed(2)} 8-bit code values of apply; ${drawn} frames of ${WIDTH} x ${HEIGHT} drawn at ${rate.toFixed(1)} of 24 a second, ${skipped} dropped and counted, one in ${every ** 2} pixels in the scopes, ` +
        `${late} ms from arrival to screen; ${kept.toFixed(1)} s kept, frozen, grabbed, away and back`);
} catch (error) {
    if (page && shots) await page.screenshot({ path: `${shots}/failed.png` });
    if (page) console.error(JSON.stringify(await strip(page).catch(() => null)));
    for (const wrong of page?.wrongs ?? []) console.error(wrong);
    console.error(error.stack);
    process.exitCode = 1;
} finally {
    await studio.end();
}
