// Finds a look by the page of `rushlight preview` as a person would, in a headless Chromium: several pictures at once, what settings
// do, the history in words, and exposure cubes over the picture.
//
//     node looks.mjs RUSHLIGHT SHOW TABLE [--shots FOLDER]

import { resolve } from "node:path";
import { Studio, assert, becomes, choose, equal, folderFor, ready, settled, state, until } from "./harness.mjs";
import * as tiles from "./tiles.mjs";

const [rushlight, show, , flag, folder] = process.argv.slice(2);
const pictures = flag === "--shots" ? resolve(folder) : null;
if (pictures) folderFor(pictures);
const studio = new Studio(resolve(rushlight), resolve(show));
const start = Date.now();

async function step(name, work) {
    try {
        const said = await work();
        if (process.env.RUSHLIGHT_TELL) console.log(`${((Date.now() - start) / 1000).toFixed(1)} s  ${name}${said === undefined ? "" : `: ${JSON.stringify(said)}`}`);
        return said;
    } catch (error) {
        error.message = `${name}: ${error.message}`;
        throw error;
    }
}

const shot = async (page, name) => {
    if (pictures) await page.screenshot({ path: `${pictures}/${name}.png` });
};

// Nothing is wider than the window, and every picture of a tile is whole.
async function fits(page, name) {
    const over = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
    assert(over <= 0, `${name}: ${over} pixels too wide`);
    const high = await page.$eval("#tiles", (grid) => grid.scrollHeight - grid.clientHeight);
    assert(high <= 0, `${name}: the tiles are ${high} pixels too high`);
    const small = await page.$$eval(".tile .view", (views) => views.filter((view) => view.clientWidth < 60).length);
    equal(small, 0, `${name}: tiles that are too small to see`);
}

async function looked(page, name, count) {
    for (const light of ["dark", "light"]) {
        await page.setViewportSize({ width: 1280, height: 800 });
        await choose(page, "#page-light", light);
        for (const [width, height] of [[1280, 800], [1920, 1080], [800, 900]]) {
            await page.setViewportSize({ width, height });
            await tiles.complete(page, count);
            await fits(page, `${name} at ${width}`);
            await shot(page, `${name}-${width}-${light}`);
        }
    }
    await page.setViewportSize({ width: 1280, height: 800 });
    await choose(page, "#page-light", "dark");
}

// A setting says what it does and how too low and too high look, where one points and where one is by keys.
async function helps(page) {
    const number = ".step[data-do=print] .field[data-key=toe] input[type=number]";
    await page.focus(number);
    await page.waitForFunction(() => /^Too low: /.test(document.getElementById("help-low").textContent));
    const [does, low, high] = await page.$$eval("#help p", (parts) => parts.map((part) => part.textContent));
    const kinds = await state(page, (state) => state.show.kinds);
    const toe = kinds.find((kind) => kind.do === "print").fields.find((field) => field.key === "toe");
    equal([does, low, high], [toe.help, `Too low: ${toe.too_low}.`, `Too high: ${toe.too_high}.`], "what the toe does");
    equal(await page.getAttribute(number, "aria-description"), `${toe.help} Too low: ${toe.too_low}. Too high: ${toe.too_high}.`, "for who hears it");
    await page.hover(".step[data-do=compress] h3");
    await page.waitForFunction(() => document.getElementById("help-low").textContent === "");
}

const stopsOf = (page) => state(page, (state) => state.look.steps.find((s) => s.do === "exposure").values.stops);

async function type(page, value) {
    await page.locator(".step[data-do=exposure] .field[data-key=stops] input[type=number]").fill(value);
    await page.keyboard.press("Enter");
    await until(async () => (await stopsOf(page)) === Number(value), `${value} stops`);
}

const entries = (page) => page.$$eval("#history-list button", (rows) => rows.map((row) => row.children[1].textContent));

// Newest first, in words, with the way back by a key; a save asks once what it is for.
async function history(page) {
    await type(page, "-0.7");
    await type(page, "-0.9");
    await page.click("#tab-history");
    await until(async () => /\u22120\.7 \u2192 \u22120\.9 stops/.test((await entries(page))[0] ?? ""), "the newest change");
    assert(/^Exposure .*\u2192 \u22120\.7 stops$/.test((await entries(page))[1]), JSON.stringify(await entries(page)));
    const time = await page.textContent("#history-list button .says");
    assert(/^\d\d:\d\d$/.test(time), `the time of a change: ${time}`);
    await page.locator("#history-list button").nth(1).press("Enter");
    await until(async () => (await stopsOf(page)) === -0.7, "back by one");
    await page.waitForFunction(() => document.querySelectorAll("#history-list button")[1].getAttribute("aria-current") === "true");
    assert(/undone/.test(await page.locator("#history-list button").nth(0).textContent()), "what was undone is not said");
    await page.locator("#history-list button").nth(0).click();
    await until(async () => (await stopsOf(page)) === -0.9, "and forth");
    // Asked, then noted; the note is in the file and in the history.
    await page.keyboard.press("Control+s");
    await page.waitForFunction(() => /What is this version for/.test(document.getElementById("look-says").textContent));
    equal(await page.evaluate(() => document.activeElement.id), "note", "where the keyboard is");
    assert(await state(page, (state) => state.look.unsaved), "it was saved without being asked");
    await page.keyboard.type("darker for the marsh");
    await page.keyboard.press("Enter");
    await becomes(page, (state) => !state.look.unsaved);
    assert(/darker for the marsh/.test(studio.text()), "the note is not in the file");
    await until(async () => /^Saved as revision 2: darker for the marsh$/.test((await entries(page))[0]), "the save in the history");
    await until(async () => /Revision 2: darker for the marsh/.test(await page.textContent("#history-notes")), "the note among the notes");
    // Who saves again has no note.
    await page.click("#tab-steps");
    await type(page, "-0.8");
    await page.click("#save");
    await page.waitForFunction(() => /What is this version for/.test(document.getElementById("look-says").textContent));
    await page.click("#save");
    await becomes(page, (state) => !state.look.unsaved);
    await page.click("#tab-history");
    await until(async () => /^Saved as revision 3, without a note$/.test((await entries(page))[0]), "a save without a note")
        .catch(async (error) => { throw new Error(`${error.message}: ${JSON.stringify(await entries(page))}`); });
    for (const light of ["dark", "light"]) {
        await choose(page, "#page-light", light);
        await page.click("#tab-history");
        await shot(page, `history-${light}`);
    }
    await choose(page, "#page-light", "dark");
}

// What an overlay reads, at which EI, and every zone with its stops.
async function overlays(page) {
    await page.check("[name=mode][value=look]");
    const words = async () => (await page.textContent("#overlay-key")) + (await page.textContent("#overlay-says"));
    for (const [kind, holds] of [
        ["key", /by luminance, EI \d+:.*mid-grey \(\u22120\.25 to \+0\.25\).*\+1 \(\+0\.75 to \+1\.25\).*picture in grey \(from \+1\.25\)/],
        ["clip", /clip \(from \+[\d.]+\).*not a light meter/],
        ["ladder", /floor \(under .*mid-grey.*clip \(from \+/],
        ["range", /below \u22121 stops.*picture in grey \(\u22121\.00 to \+1\.00\).*above \+1 stops/],
    ]) {
        await page.selectOption("#overlay", kind);
        await becomes(page, new Function("state", `return state.overlay?.kind === ${JSON.stringify(kind)}`));
        await until(async () => holds.test(await words()), `the key of ${kind} as ${holds}`).catch(async (error) => { throw new Error(`${error.message}: ${await words()}`); });
        const patches = await page.$$eval("#overlay-key svg", (all) => all.length);
        equal(patches, await state(page, (state) => state.overlay.key.length), `zones of ${kind}`);
        await shot(page, `overlay-${kind}`);
    }
    await page.fill("#window-high", "2.5");
    await page.press("#window-high", "Enter");
    await until(async () => /above \+2\.5 stops/.test(await words()), "another window");
    const copy = () => page.evaluate(() => document.getElementById("canvas").toDataURL());
    const before = await copy();
    await page.selectOption("#basis", "highest");
    await until(async () => /by the strongest channel/.test(await words()), "what it reads");
    await until(async () => (await copy()) !== before, "the picture of another basis");
    // A window that is none is refused in a line, and the one before stays in sight.
    await page.fill("#window-low", "9");
    await page.press("#window-low", "Enter");
    await page.waitForFunction(() => /window/.test(document.getElementById("picture-fault").textContent));
    await page.fill("#window-low", "-1");
    await page.press("#window-low", "Enter");
    await page.locator("#picture-fault").waitFor({ state: "hidden" });
    await page.selectOption("#basis", "luminance");
    await page.selectOption("#overlay", "none");
    await ready(page);
}

let page = null;
try {
    await studio.start();
    await studio.browse();
    await step("load", async () => { page = await studio.open(); });
    await step("scopes off", () => page.evaluate(() => ["scope-stops", "scope-display"].forEach((id) => document.getElementById(id).click())));
    await step("points", async () => {
        await choose(page, "#points", "65");
        await settled(page);
    });
    const sdr = await step("displays", () => tiles.displays(studio, page));
    await step("displays looked at", () => looked(page, "displays", 2));
    const boat = await step("frames", () => tiles.frames(studio, page, (name) => shot(page, name)));
    const series = await step("versions", () => tiles.versions(studio, page));
    await step("versions looked at", async () => {
        await choose(page, "#points", "33");
        await settled(page);
        await page.fill("#series-count", "7");
        await page.fill("#series-high", "1.5");
        await page.press("#series-count", "Enter");
        await tiles.complete(page, 8);
        await looked(page, "versions", 8);
        await page.focus("#picture");
        await page.keyboard.press("f");
        await page.locator("#controls").waitFor({ state: "hidden" });
        await tiles.complete(page, 8);
        await shot(page, "versions-alone");
        await page.focus("#picture");
        await page.keyboard.press("f");
        await page.locator("#controls").waitFor();
        await page.evaluate(() => (document.fullscreenElement ? document.exitFullscreen() : null));
        await page.setViewportSize({ width: 1280, height: 800 });
        await page.click("#hold-none");
        await tiles.complete(page, 1);
    });
    await step("help", () => helps(page));
    await step("history", () => history(page));
    await step("overlays", () => overlays(page));
    assert(page.wrongs.length === 0, page.wrongs.join("\n"));
    console.log(`preview: tiles of two displays, two cameras and 8 versions within ${Math.max(sdr, boat, series).toFixed(2)} 8-bit code values of the exact path; settings that say what ` +
        "they do, a history in words, a save that asks for its note, overlays with every zone");
} catch (error) {
    if (page && pictures) await page.screenshot({ path: `${pictures}/failed.png` });
    for (const wrong of page?.wrongs ?? []) console.error(wrong);
    console.error(error.stack);
    process.exitCode = 1;
} finally {
    await studio.end();
}
