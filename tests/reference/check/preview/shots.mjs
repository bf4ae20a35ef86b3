// The shots: chosen, corrected by numbers, sliders, keys and helpers, saved into their files, compared, and made anew.

import { spawnSync } from "node:child_process";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { assert, becomes, equal, ready, says, settled, state, until } from "./harness.mjs";

const read = (studio, name) => readFileSync(join(studio.folder, name), "utf8");
const row = (name) => `#shots li[data-shot="${name}"]`;
const close = (a, b) => Math.abs(a - b) < 1e-9;

async function choose(page, name) {
    await page.click(row(name));
    await becomes(page, new Function("state", `return state.pick.shot === ${JSON.stringify(name)} && state.shot?.name === ${JSON.stringify(name)}`));
}

async function number(page, id, value) {
    await page.fill(id, String(value));
    await page.press(id, "Enter");
}

// What the program itself makes of the pixel that is read, through the shot's file.
async function isThatOfTheProgram(studio, page, shot) {
    const found = await until(async () => {
        const { reading, pick } = await state(page, (s) => ({ reading: s.reading, pick: s.pick }));
        const options = ["probe", studio.show, ...reading.signal.map(String), "--json", "--shot", shot, "--look", pick.look, "--camera", pick.camera, "--display", pick.display];
        const run = spawnSync(studio.rushlight, options, { encoding: "utf8" });
        assert(run.status === 0, run.stderr);
        const { out } = JSON.parse(run.stdout).colours[0];
        return out.every((v, i) => close(v, reading.probe.out[i]));
    }, "the pixel is what the program makes of it");
    assert(found, shot);
}

export async function correct(studio, page) {
    await page.click("#tab-shots");
    await choose(page, "12A-3");
    await number(page, "#shot-offset-0", 0.05);
    await becomes(page, (s) => s.shot.numbers.offset[0] === 0.05 && s.shot.unsaved);
    await page.focus("#picture");
    await page.keyboard.press("Control+z");
    await becomes(page, (s) => s.shot.numbers.offset[0] === 0.006 && !s.shot.unsaved);
    await page.keyboard.press("Control+Shift+z");
    await becomes(page, (s) => s.shot.numbers.offset[0] === 0.05);
    // A slider by keys is one version a press.
    await page.focus("#shot-fields [data-field=saturation] input[type=range]");
    await page.keyboard.press("ArrowRight");
    await becomes(page, (s) => s.shot.numbers.saturation > 0.95);
    // A stop, by the show's space.
    const before = await state(page, (s) => s.shot.numbers.offset[1]);
    await number(page, "#shot-stops", 1);
    await page.click("#shot-up");
    await until(() => state(page, (s) => s.shot.numbers.offset[1]).then((now) => close(now, before + 1 / 17.52)), "a stop is 1 / 17.52 of ACEScct");
    await page.waitForFunction(() => /^offset \+0\.0571/.test(document.getElementById("shot-says").textContent));
    await page.click("#shot-down");
    await until(() => state(page, (s) => s.shot.numbers.offset[1]).then((now) => close(now, before)), "and back");
    await page.focus("#picture");
    await page.keyboard.press("Control+s");
    await becomes(page, (s) => !s.shot.unsaved);
    assert(/<Offset>0\.05\d* 0 -0\.00/.test(read(studio, "cdl/night1.ccc")), read(studio, "cdl/night1.ccc"));
    assert(read(studio, "cdl/night1.ccc").includes("<Description>the house from the dunes, lantern in</Description>"), "remarks stay");
    await settled(page);
    await isThatOfTheProgram(studio, page, "12A-3");
}

// The shot and its versions are there after the page and after the server were ended; and another shot stands beside it.
export async function compare(studio, page) {
    const versions = await state(page, (s) => s.shot.versions.length);
    await page.reload();
    await ready(page);
    await page.click("#tab-shots");
    await becomes(page, (s) => s.shot?.name === "12A-3");
    equal(await state(page, (s) => s.shot.versions.length), versions, "versions after a reload");
    await choose(page, "12B-1");
    await page.click("#shot-against");
    await becomes(page, (s) => s.view.other === "shot:12A-3@now" && s.other !== null);
    await says(page, "#side-left", "Shot 12A-3\u2019s correction on this frame");
    await page.focus("#picture");
    await page.keyboard.press("p");
    // Beside itself it stands as it is in its file, and the list says so.
    await becomes(page, (s) => s.pick.shot === "12A-3" && s.view.other === "shot:12A-3@saved" && s.shot?.name === "12A-3");
    equal(await page.$eval("#other", (list) => list.selectedOptions[0]?.text), "12A-3, as saved", "what stands there");
    await page.keyboard.press("n");
    await becomes(page, (s) => s.pick.shot === "12B-1" && s.shot?.name === "12B-1");
    await page.click("#shot-copy");
    await becomes(page, (s) => JSON.stringify(s.shot.numbers) === JSON.stringify(s.shots.shots.find((o) => o.name === "12A-3").numbers));
    await page.click("#shot-reset");
    await becomes(page, (s) => s.shot.numbers.saturation === 1);
    await page.selectOption("#shot-versions", "0");
    await becomes(page, (s) => !s.shot.unsaved);
}

// A drag on the picture while E is held is one version, upon where it began; the cross stays.
export async function drag(studio, page) {
    const before = await state(page, (s) => ({ versions: s.shot.versions.length, at: s.shot.at, cross: s.cross, numbers: s.shot.numbers }));
    const box = await page.evaluate(() => document.getElementById("canvas").getBoundingClientRect().toJSON());
    const at = (x, y) => [box.left + x * box.width, box.top + y * box.height];
    await page.focus("#picture");
    await page.keyboard.down("e");
    await page.mouse.move(...at(0.3, 0.5));
    await page.mouse.down();
    for (let i = 1; i <= 5; i += 1) await page.mouse.move(...at(0.3 + 0.02 * i, 0.5 - 0.02 * i));
    await page.mouse.up();
    await page.keyboard.up("e");
    await becomes(page, (s) => s.shot.unsaved && !s.dragging);
    await settled(page);
    const after = await state(page, (s) => ({ versions: s.shot.versions.length, at: s.shot.at, cross: s.cross, numbers: s.shot.numbers }));
    equal([after.at, after.cross], [before.at + 1, before.cross], "one version, and the cross where it was");
    const [red, , blue] = [0, 1, 2].map((c) => after.numbers.offset[c] - before.numbers.offset[c]);
    assert(red > blue && red > 0, `brighter and warmer: ${JSON.stringify(after.numbers.offset)}`);
    await page.click("#shot-undo");
    await becomes(page, new Function("s", `return s.shot.at === ${before.at}`));
}

// Notes are written into the show, and pins stay with the shot.
export async function noted(studio, page) {
    await page.click("#shot-notes-edit");
    await page.fill("#noted-scene", "12B");
    await page.fill("#noted-note", "moon");
    await page.press("#noted-note", "Enter");
    await becomes(page, (s) => s.shot?.scene === "12B" && s.shot.note === "moon");
    assert(/name = "12B-1"[^[]*scene = "12B"[^[]*note = "moon"/.test(read(studio, "show.toml")), read(studio, "show.toml"));
    await page.focus("#picture");
    await page.keyboard.press("c");
    await becomes(page, (s) => s.pins.length === 1 && s.shot.pins.pins.length === 1);
    const { pins } = await state(page, (s) => ({ pins: s.pins }));
    await choose(page, "12A-3");
    await becomes(page, (s) => s.pins.length === 0);
    await page.reload();
    await ready(page);
    await page.click("#tab-shots");
    await choose(page, "12B-1");
    await becomes(page, (s) => s.pins.length === 1);
    equal(await state(page, (s) => s.pins), pins, "pins of a shot");
    await page.evaluate(async () => (await import("./layout.js")).lay({ scopes: { ...(await import("./state.js")).state.layout.scopes, pins: false } }));
}

export async function anew(studio, page) {
    await page.click("#shot-new");
    await page.fill("#new-scene", "14");
    await page.fill("#new-take", "1");
    equal(await page.inputValue("#new-name"), "14-1", "the name of scene and take");
    await page.fill("#new-note", "wind");
    await page.click("#new-make");
    await becomes(page, (s) => s.pick.shot === "14-1" && s.shot?.name === "14-1");
    assert(/name = "14-1"[\s\S]*frame = "stills\/14-1_log\.png"[\s\S]*note = "wind"/.test(read(studio, "show.toml")), "its entry");
    assert(read(studio, "cdl/night1.ccc").includes('id="14-1"'), "its correction");
    await becomes(page, (s) => s.show.frames.find((f) => String(f.id) === s.pick.frame)?.name === "stills/14-1_log.png");
    // Beside another shot on another frame it stands on its own.
    await choose(page, "12B-1");
    await page.selectOption("#pick-frame", { index: 0 });
    await page.click("#shot-against");
    await becomes(page, (s) => s.view.other === "shot:14-1@now" && s.other?.frame && s.other.frame.id !== s.frame.id);
    await says(page, "#side-left", "Shot 14-1, its own frame");
    await page.uncheck("#own");
    await says(page, "#side-left", "Shot 14-1\u2019s correction on this frame");
    // By its own camera, where another is in view.
    await page.check("#own");
    await page.selectOption("#pick-camera", "b");
    await becomes(page, (s) => s.other?.asked.camera === "b" && s.other.own?.camera === "a");
    await page.waitForFunction(() => /^Shot 14-1, its own frame, A camera/.test(document.getElementById("side-left").textContent));
    equal(await state(page, (s) => s.other.own.cube.asked.camera), "a", "the camera of its own picture");
    await page.selectOption("#pick-camera", "a");
    await becomes(page, (s) => s.pick.camera === "a");
    // As it was, for what comes next.
    await page.click("#shot-none");
    await becomes(page, (s) => s.pick.shot === null);
    await page.selectOption("#pick-frame", { index: 0 });
    await page.selectOption("#other", "signal");
    await page.click("#tab-steps");
    await settled(page);
}

// A tile that is given a shot takes its frame, its camera and its look, and says so.
export async function tiled(page) {
    await page.selectOption("#pick-camera", "b");
    await page.check("[name=mode][value=grid]");
    await page.selectOption("#grid-of", "frames");
    await until(async () => (await page.$$(".tile")).length >= 2, "a second tile");
    const lists = page.locator(".tile").nth(1).locator("select");
    await lists.nth(0).selectOption({ label: "frame.exr" });
    await lists.nth(2).selectOption("14-1");
    await page.waitForFunction(() => document.querySelectorAll(".tile .did")[1].textContent.startsWith("Shot 14-1: its frame"));
    const found = await state(page, ({ grid, show }) => {
        const { frame, camera, look, shot } = grid.frames[0];
        return [show.frames.find((f) => String(f.id) === frame).name, camera, look, shot];
    });
    equal(found, ["stills/14-1_log.png", "a", "night", "14-1"], "what the tile is of");
    await page.check("[name=mode][value=divide]");
    await page.selectOption("#pick-camera", "a");
    await settled(page);
}
