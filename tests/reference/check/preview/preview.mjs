// Uses the page of `rushlight preview` as a person would, in a headless Chromium.
//
//     node preview.mjs RUSHLIGHT SHOW TABLE [--shots FOLDER]
//
// TABLE is fixtures/reference/difference.csv. `preview_page.py` beside this folder runs it with what it needs.

import { resolve } from "node:path";
import { Studio, assert, folderFor } from "./harness.mjs";
import * as editing from "./editing.mjs";
import * as layout from "./layout.mjs";
import * as picture from "./picture.mjs";
import * as reach from "./reach.mjs";
import * as shots from "./shots.mjs";
import * as trouble from "./trouble.mjs";

const [rushlight, show, table, flag, folder] = process.argv.slice(2);
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

let page = null;
try {
    await studio.start();
    await studio.browse();
    await step("load", async () => { page = await studio.open(); });
    // They have a check of their own, and cost a computer without a graphics card most of its time.
    await step("scopes off", () => page.evaluate(() => ["scope-stops", "scope-display"].forEach((id) => document.getElementById(id).click())));
    const wide = await step("picture first", () => layout.first(page));
    await step("picture alone", () => layout.alone(page));
    await step("overlays beside the picture", () => layout.overlays(page));
    await step("table of keys", () => layout.keyTable(page));
    await step("steps in sight", () => layout.steps(page));
    await step("zoom", () => layout.zoom(page));
    await step("lists", () => layout.chosen(page));
    await step("stored", () => layout.stored(studio, page));
    const off = await step("pixels", () => picture.pixels(studio, page));
    const nudged = await step("nudge", () => picture.nudges(studio, page));
    await step("readings", () => picture.readings(studio, page));
    const rows = await step("difference", () => picture.differences(page, table));
    await step("compare", () => picture.comparing(page));
    await step("change", () => editing.change(studio, page));
    await step("drag", () => editing.drag(page));
    await step("bypass", () => editing.bypass(studio, page));
    await step("order", () => editing.order(page));
    await step("save", () => editing.save(studio, page));
    await step("revision", () => editing.revision(page));
    await step("finding", () => editing.finding(page));
    await step("reload", () => editing.reload(studio, page));
    await step("changed outside", () => trouble.outside(studio, page));
    await step("conflict", () => trouble.conflict(studio, page));
    await step("files dropped", () => trouble.files(studio, page));
    await step("clips", () => trouble.clips(studio, page));
    await step("graphics", () => trouble.graphics(studio, page));
    await step("restart", () => trouble.restart(studio, page));
    await step("shots", () => shots.correct(studio, page));
    await step("exposure and white of a shot", () => shots.amounts(studio, page));
    await step("numbers of a shot", () => shots.numbers(studio, page));
    await step("list of shots", () => shots.list(studio, page));
    await step("shots compared", () => shots.compare(studio, page));
    await step("shot by the picture", () => shots.drag(studio, page));
    await step("notes and pins of a shot", () => shots.noted(studio, page));
    await step("new shot", () => shots.anew(studio, page));
    await step("a shot in a tile", () => shots.tiled(page));
    await step("name, still, entry and end of a shot", () => shots.managed(studio, page));
    await step("cubes of an older look", () => shots.cubes(studio, page));
    await step("keys", () => reach.keys(page));
    const controls = await step("walk", () => reach.walk(page));
    const least = await step("looks", () => reach.looks(page, pictures));
    await step("views", () => reach.views(page, pictures));
    assert(page.wrongs.length === 0, page.wrongs.join("\n"));
    const far = Math.max(off.asSrgb, off.asCodes, nudged).toFixed(2);
    console.log(`preview: a picture ${wide} pixels wide at 1280 x 800, pixels within ${far} 8-bit code values of the exact path, ${rows} rows of CIEDE2000, ${controls} controls by keys alone, ` +
        `text of a contrast of ${least.toFixed(1)} or more; saved, reloaded, in conflict, restarted`);
} catch (error) {
    if (page && pictures) await page.screenshot({ path: `${pictures}/failed.png` });
    for (const wrong of page?.wrongs ?? []) console.error(wrong);
    console.error(error.stack);
    process.exitCode = 1;
} finally {
    await studio.end();
}
