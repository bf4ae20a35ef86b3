// The shots: chosen, corrected by numbers, sliders, keys and helpers, saved into their files, compared, and made anew.

import { spawnSync } from "node:child_process";
import { readFileSync, readdirSync } from "node:fs";
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
    await number(page, "#shot-step", 1);
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

const shows = (page, id, text) => until(async () => (await page.inputValue(id)) === text, `${id} shows ${text}`);

// Exposure and white are what the correction of this shot amounts to; Enter sets them.
export async function amounts(studio, page) {
    await choose(page, "12B-1");
    await becomes(page, (s) => s.amount?.of.name === "12B-1");
    await number(page, "#shot-exposure", 1.5);
    await becomes(page, (s) => Math.abs(s.amount.stops - 1.5) < 1e-6 && s.amount.of.version === s.shot.version);
    await number(page, "#shot-step", 0.25);
    await page.click("#shot-up");
    await shows(page, "#shot-exposure", "1.75");
    await number(page, "#shot-kelvin", 4300);
    await becomes(page, (s) => Math.abs(s.amount.kelvin - 4300) < 1 && Math.abs(s.amount.stops - 1.75) < 1e-6);
    equal(await page.inputValue("#shot-kelvin"), "4300", "the white of the shot");
    const versions = await state(page, (s) => s.shot.versions.length);
    // Of another shot it is another, or none.
    await choose(page, "12A-3");
    await becomes(page, (s) => s.amount.of.name === "12A-3");
    await until(async () => (await page.inputValue("#shot-kelvin")) !== "4300" && (await page.inputValue("#shot-exposure")) !== "1.75", "the amounts of the other shot");
    await choose(page, "12B-1");
    await shows(page, "#shot-exposure", "1.75");
    equal(await state(page, (s) => s.shot.versions.length), versions, "nothing is changed by looking");
    await page.selectOption("#shot-versions", "0");
    await becomes(page, (s) => !s.shot.unsaved);
    await choose(page, "12A-3");
}

// Numbers by keys, by a fine drag, and rounded to be read.
export async function numbers(studio, page) {
    await page.focus("#shot-slope-0");
    await page.keyboard.press("Tab");
    equal(await page.evaluate(() => document.activeElement.id), "shot-slope-1", "Tab leads from number to number");
    const at = await state(page, (s) => s.shot.at);
    await number(page, "#shot-offset-0", 0.0357142857);
    await becomes(page, (s) => s.shot.numbers.offset[0] === 0.0357142857);
    await shows(page, "#shot-offset-0", "0.0357");
    assert((await page.getAttribute("#shot-offset-0", "title")).startsWith("0.0357142857"), "the exact number is in the title");
    // What was rounded to be read is not taken for a new number.
    await page.focus("#shot-offset-0");
    await page.$eval("#shot-offset-0", (node) => node.dispatchEvent(new Event("change")));
    await page.focus("#picture");
    equal(await state(page, (s) => [s.shot.numbers.offset[0], s.shot.at]), [0.0357142857, at + 1], "the number as it was");
    const box = await page.locator("#shot-offset-1").boundingBox();
    const before = await state(page, (s) => s.shot.numbers.offset[1]);
    await page.mouse.move(box.x + 10, box.y + box.height / 2);
    await page.mouse.down();
    for (const far of [2, 5, 15, 25]) await page.mouse.move(box.x + 10 + far, box.y + box.height / 2);
    await page.mouse.up();
    await becomes(page, new Function("s", `const by = s.shot.numbers.offset[1] - ${before}; return !s.dragging && by > 0 && by < 0.03`));
    equal(await state(page, (s) => s.shot.at), at + 2, "a drag on a number is one version");
    for (const to of [at + 1, at]) {
        await page.click("#shot-undo");
        await becomes(page, new Function("s", `return s.shot.at === ${to}`));
    }
}

// The list by keys: no press is lost, none is chosen too, and what is looked for is found.
export async function list(studio, page) {
    const names = await state(page, (s) => s.shots.shots.map((one) => one.name));
    await page.focus("#shots");
    await page.keyboard.press("Home");
    await becomes(page, (s) => s.pick.shot === null && s.shot === null);
    for (let i = 0; i < 3; i += 1) await page.keyboard.press("ArrowDown");
    await becomes(page, new Function("s", `return s.shot?.name === ${JSON.stringify(names[2])}`));
    await page.keyboard.press("End");
    await becomes(page, new Function("s", `return s.shot?.name === ${JSON.stringify(names.at(-1))}`));
    await page.fill("#shots-find", "nowhere");
    await page.locator("#shot-missed").waitFor();
    await page.fill("#shots-find", "12b");
    await page.press("#shots-find", "Enter");
    await becomes(page, (s) => s.shot?.name === "12B-1");
    equal(await page.evaluate(() => document.activeElement.id), "shots", "the focus is in the list");
    await page.fill("#shots-find", "");
    await choose(page, "12A-3");
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
    await page.fill("#noted-kelvin", "4320");
    await page.fill("#noted-note", "moon");
    await page.press("#noted-note", "Enter");
    await becomes(page, (s) => s.shot?.scene === "12B" && s.shot.note === "moon" && s.shot.white.kelvin === 4320);
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
    // From another tab, of a still: the form is there, and what is typed goes into its first field.
    await page.click("#tab-steps");
    await page.focus("#picture");
    await page.keyboard.press("t");
    await page.locator("#new-shot").waitFor();
    await until(() => page.evaluate(() => document.activeElement.id === "new-scene"), "the focus is in the scene");
    assert((await page.textContent("#new-of")).includes(": "), "which frame it is of");
    await page.fill("#new-scene", "14");
    await page.fill("#new-take", "1");
    equal(await page.inputValue("#new-name"), "14-1", "the name of scene and take");
    await page.fill("#new-note", "wind");
    await page.fill("#new-reel", "A007");
    await page.fill("#new-kelvin", "4300");
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
    await other(page);
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
        const [tile] = grid.frames;
        return [show.frames.find((f) => String(f.id) === tile.frame).name, tile.camera, tile.look, tile.shot];
    });
    equal(found, ["stills/14-1_log.png", "a", "night", "14-1"], "what the tile is of");
    await page.check("[name=mode][value=divide]");
    await page.selectOption("#pick-camera", "a");
    await settled(page);
}

// Reel and white of a camera come again for its next shot, and for no other camera's.
async function other(page) {
    const fields = () => Promise.all(["#new-scene", "#new-reel", "#new-kelvin", "#new-ei"].map((id) => page.inputValue(id)));
    await page.click("#shot-new");
    await page.locator("#new-shot").waitFor();
    await until(() => page.evaluate(() => { const node = document.activeElement; return node.id === "new-scene" && node.selectionEnd === 2 && node.selectionStart === 0; }), "the scene is selected");
    const [, reel, kelvin, ei] = await fields();
    equal([reel, kelvin], ["A007", "4300"], "of this camera");
    await page.selectOption("#pick-camera", "b");
    await until(async () => JSON.stringify(await fields()) === JSON.stringify(["14", "", "", "100"]), "nothing of the other camera");
    await page.selectOption("#pick-camera", "a");
    await until(async () => JSON.stringify(await fields()) === JSON.stringify(["14", "A007", "4300", ei]), "and of this one again");
    await page.click("#new-close");
}

// The still of a shot in place of what is in view, another name, an entry for a list's shot, and a shot that goes.
export async function managed(studio, page) {
    await page.click("#tab-shots");
    await choose(page, "14-1");
    await becomes(page, (s) => s.show.frames.find((f) => String(f.id) === s.pick.frame)?.name === "stills/14-1_log.png");
    assert(await page.isHidden("#shot-still"), "its still is in view");
    await page.selectOption("#pick-frame", { index: 0 });
    await page.click("#shot-still");
    await becomes(page, (s) => s.show.frames.find((f) => String(f.id) === s.pick.frame)?.name === "stills/14-1_log.png");
    await page.click("#shot-notes-edit");
    await page.fill("#noted-name", "14-2");
    await page.fill("#noted-take", "2");
    await page.press("#noted-take", "Enter");
    await becomes(page, (s) => s.shot?.name === "14-2" && s.shot.take === "2" && !s.shots.shots.some((one) => one.name === "14-1"));
    assert(/name = "14-2"[\s\S]*id = "14-2"/.test(read(studio, "show.toml")) && !read(studio, "show.toml").includes('"14-1"'), read(studio, "show.toml"));
    assert(read(studio, "cdl/night1.ccc").includes('id="14-2"') && !read(studio, "cdl/night1.ccc").includes('id="14-1"'), read(studio, "cdl/night1.ccc"));
    await page.waitForFunction(() => /14-1 is 14-2 now.*stills\/14-1_log\.png/.test(document.getElementById("shot-says").textContent));
    // It asks, and keeps what is to be kept.
    const remove = async (answer) => {
        await page.click("#shot-notes-edit");
        await page.click("#noted-delete");
        await page.click(`.bar[data-id=shot-delete] button:has-text("${answer}")`);
    };
    await remove("Keep it");
    assert(read(studio, "show.toml").includes('"14-2"'), "it is kept");
    await page.click("#shot-notes-edit");
    await remove("Delete");
    await becomes(page, (s) => s.pick.shot === null && !s.shots.shots.some((one) => one.name === "14-2"));
    assert(!read(studio, "show.toml").includes('"14-2"') && !read(studio, "cdl/night1.ccc").includes('"14-2"'), "it is gone");
    await page.click(".bar[data-id=shot-deleted] button");
    const listed = await state(page, (s) => s.shots.shots.find((one) => one.of_list).name);
    await choose(page, listed);
    await page.click("#shot-notes-edit");
    assert(await page.isDisabled("#noted-note"), "a list has no place for notes");
    equal(await page.evaluate(() => document.activeElement.id), "noted-own", "the focus is where the entry is made");
    await page.click("#noted-own");
    await until(() => page.isEnabled("#noted-note"), "the entry is there");
    await page.fill("#noted-note", "fog");
    await page.press("#noted-note", "Enter");
    await becomes(page, (s) => s.shot?.note === "fog");
    await page.click("#shot-none");
}

// Cubes of an older look are named, and baked anew by one button.
export async function cubes(studio, page) {
    const boxes = join(studio.scratch, "boxes");
    const again = async (...options) => {
        await studio.kill();
        await studio.start(...options);
        await becomes(page, (s) => s.link === "good" && !s.bars.some((bar) => bar.id === "lost"));
    };
    await again("--out", boxes);
    await page.reload();
    await ready(page);
    await page.click("#tab-shots");
    await choose(page, "12A-3");
    await page.click("#shot-save");
    await page.waitForFunction(() => /^Saved into cdl\/night1\.ccc\. In .*boxes: saltmarsh_12A-3_night_r\d+_a_onset_17\.cube, \u2026_33\.cube\./.test(document.getElementById("shot-says").textContent));
    assert(await page.isHidden("#shots-old"), "they are of now");
    const text = studio.text();
    const revision = Number(/revision = (\d+)/.exec(text)[1]);
    studio.write(text.replace(`revision = ${revision}`, `revision = ${revision + 1}`));
    await page.waitForFunction(() => document.getElementById("shots-old-says").textContent === "Old cubes: 12A-3");
    await page.click("#shots-old-bake");
    await page.locator("#shots-old").waitFor({ state: "hidden" });
    assert(readdirSync(boxes).some((name) => name.includes(`_r${revision + 1}_`)), "a cube of the new revision");
    studio.write(text);
    await again();
    await page.reload();
    await ready(page);
    await page.click("#tab-steps");
}
