// Changes of the look by the page, and what the file then says.

import { assert, equal, ready, says, settled, state, stays, until } from "./harness.mjs";
import { agrees } from "./picture.mjs";

const field = (kind, key) => `.step[data-do=${kind}] .field[data-key="${key}"]`;

const kinds = (page) => page.$$eval(".step", (steps) => steps.map((step) => step.dataset.do));

// A number typed at a step: the picture is what the same number in the file would make.
export async function change(studio, page) {
    const number = page.locator(`${field("exposure", "stops")} input[type=number]`);
    await number.fill("-1.1");
    await number.press("Enter");
    await page.waitForFunction(() => document.title.startsWith("•"));
    const wanted = studio.aside("changed", (text) => text.replace("stops = -0.4", "stops = -1.1"));
    await agrees(studio, page, wanted, "after a change");
    // Out of bounds: one line at the field, and the picture stays as it was.
    await number.fill("99");
    await number.press("Enter");
    const fault = page.locator(`${field("exposure", "stops")} .fault`);
    await fault.waitFor();
    assert(/99.*-20.*20/.test(await fault.textContent()), `the refusal of 99 stops: ${await fault.textContent()}`);
    await agrees(studio, page, wanted, "with a fault in the look");
    await number.fill("-1.1");
    await number.press("Enter");
    await fault.waitFor({ state: "hidden" });
}

// A drag of a slider is one entry to undo, however many values it went through.
export async function drag(page) {
    const slider = page.locator(`${field("exposure", "stops")} input[type=range]`);
    const value = () => state(page, (state) => state.look.steps.find((s) => s.do === "exposure").values.stops);
    await slider.scrollIntoViewIfNeeded();
    const { x, y, width, height } = await slider.boundingBox();
    const before = await value();
    await page.mouse.move(x + width / 2, y + height / 2);
    await page.mouse.down();
    for (let i = 1; i <= 20; i += 1) await page.mouse.move(x + width / 2 + i * 3, y + height / 2);
    await page.mouse.up();
    await settled(page);
    const after = await value();
    assert(after > before + 0.5, `the drag went from ${before} to ${after}`);
    equal(await state(page, (state) => state.cube.points), 65, "points after a drag");
    await page.click("#undo");
    await until(async () => (await value()) === before, "one undo takes the whole drag back");
    await page.click("#redo");
    await until(async () => (await value()) === after, "redo brings it again");
    await page.click("#undo");
    await until(async () => (await value()) === before, "and undo again");
}

export async function bypass(studio, page) {
    const button = page.locator(".step[data-do=tint] [data-focus^=bypass]");
    await button.click();
    await page.locator(".step[data-do=tint].bypassed").waitFor();
    const withoutTint = (text) => text.split("[[step]]\n").filter((block) => !block.startsWith('do = "tint"')).join("[[step]]\n");
    const without = studio.aside("bypassed", (text) => withoutTint(text).replace("stops = -0.4", "stops = -1.1"));
    await agrees(studio, page, without, "with the tint bypassed");
    await button.click();
    await page.locator(".step[data-do=tint].bypassed").waitFor({ state: "detached" });
}

// By buttons and by the mouse, with the keyboard's place kept.
export async function order(page) {
    const before = await kinds(page);
    await page.locator("[data-focus='down 1']").press("Enter");
    await until(async () => (await kinds(page))[2] === "balance", "a step goes down");
    equal(await page.evaluate(() => document.activeElement.dataset.focus), "down 2", "the focus after a move");
    const handle = page.locator(".step").nth(2).locator(".handle");
    const target = page.locator(".step").nth(1);
    // What the move brought may still shift the list, and a drop would land beside its mark.
    await stays(async () => JSON.stringify([await handle.boundingBox(), await target.boundingBox()]));
    await handle.dragTo(target, { targetPosition: { x: 40, y: 3 } });
    await until(async () => JSON.stringify(await kinds(page)) === JSON.stringify(before), "a step is dragged back");
    await page.selectOption("#add-kind", "saturation");
    await page.click("#add");
    await until(async () => (await kinds(page)).includes("saturation"), "a step is added");
    const now = await kinds(page);
    equal(now.at(-1), before.at(-1), "the rendering stays last");
    await page.locator(".step[data-do=saturation] [data-focus^=remove]").click();
    await until(async () => JSON.stringify(await kinds(page)) === JSON.stringify(before), "a step is removed");
}

// The file: comments kept, revision raised, a note; and it makes the picture that the page shows.
export async function save(studio, page) {
    const before = studio.text();
    await page.fill("#note", "printed down for the night");
    await page.keyboard.press("Control+s");
    await page.waitForFunction(() => /saved as revision 2/.test(document.getElementById("look-says").textContent));
    const after = studio.text();
    assert(/^revision = 2\b/m.test(after), "the revision was not raised");
    assert(/^stops = -1\.1\b/m.test(after), "the change is not in the file");
    assert(/printed down for the night/.test(after), "the note is not in the file");
    const comments = (text) => text.split("\n").map((line) => /#.*$/.exec(line)?.[0]).filter(Boolean);
    for (const comment of comments(before)) assert(after.includes(comment), `lost: ${comment}`);
    equal(await page.isDisabled("#save"), true, "nothing is left to save");
    await agrees(studio, page, studio.show, "after saving");
}

// Against a revision of git: the numbers, what changed, and a revision that is none.
export async function revision(page) {
    await page.check("[name=mode][value=compare]");
    await page.selectOption("#other", "revision");
    await page.fill("#revision", "HEAD");
    await page.press("#revision", "Enter");
    await page.waitForFunction(() => /exposure -0\.4 -> -1\.1 stops/.test(document.getElementById("numbers").textContent));
    assert(/HEAD/.test(await page.textContent("#side-left")), "the side of the revision is not named");
    assert(await state(page, (state) => state.other?.asked.at === "HEAD"), "the picture is not of the revision");
    await page.fill("#revision", "no-such-branch");
    await page.press("#revision", "Enter");
    await page.waitForFunction(() => document.querySelector("#numbers .fault") && /no-such-branch/.test(document.querySelector("#picture-fault").textContent));
    await page.selectOption("#other", "signal");
    await page.locator("#revision-label").waitFor({ state: "hidden" });
    await page.locator("#picture-fault").waitFor({ state: "hidden" });
}

// What is found of the newest edit comes by itself; until then, what the older finding is of is said.
export async function finding(page) {
    await says(page, "#worst-of", "Of the look as it is now");
    const number = page.locator(`${field("exposure", "stops")} input[type=number]`);
    await number.fill("-1.2");
    await number.press("Enter");
    await page.waitForFunction(() => /^Testing the newest state\. This is of .*, as (saved|it was at \d\d:\d\d:\d\d):$/.test(document.getElementById("worst-of").textContent)
        && /older/.test(getComputedStyle(document.getElementById("worst-line"), "::after").content));
    await says(page, "#worst-of", "Of the look as it is now");
    equal(await state(page, (state) => state.worst.version === state.look.version && state.worst.done), true, "the finding is of the newest edit");
    await number.press("Control+z");
    await page.waitForFunction((number) => document.querySelector(number).value === "-1.1", `${field("exposure", "stops")} input[type=number]`);
}

export async function reload(studio, page) {
    await page.check("[name=mode][value=look]");
    await settled(page);
    await page.reload();
    await ready(page);
    equal(await page.inputValue("#look-title"), "Saltmarsh, night exterior", "the title after a reload");
    equal(await page.isChecked("[name=mode][value=look]"), true, "the view after a reload");
    await agrees(studio, page, studio.show, "after a reload");
}
