// How the page is laid out: the picture first, all by keys, and as it was chosen the next day.

import { assert, becomes, choose, equal, ready, settled, state, until } from "./harness.mjs";

const box = (page, id) => page.evaluate((id) => {
    const { left, top, width, height } = document.getElementById(id).getBoundingClientRect();
    return { left, top, width, height };
}, id);

const key = async (page, letter) => {
    await page.focus("#picture");
    await page.keyboard.press(letter);
};

// Wide enough, nothing lies over it, and panels that fold away give it their room.
export async function first(page) {
    await page.setViewportSize({ width: 1280, height: 800 });
    await page.check("[name=mode][value=look]");
    await settled(page);
    const { width } = await box(page, "canvas");
    assert(width >= 1000, `the picture is ${width} pixels wide at 1280 x 800`);
    const covered = await page.evaluate(() => {
        const { left, top, width, height } = document.getElementById("canvas").getBoundingClientRect();
        const over = [];
        for (let i = 1; i < 20; i += 1) {
            for (let j = 1; j < 20; j += 1) {
                const node = document.elementFromPoint(left + (width * i) / 20, top + (height * j) / 20);
                if (!node?.closest("#picture")) over.push(node?.id ?? "nothing");
            }
        }
        return over;
    });
    equal(covered, [], "what lies over the picture");
    const grows = async (letter, words) => {
        const before = await box(page, "canvas");
        await key(page, letter);
        await until(async () => (await box(page, "canvas")).width > before.width + 10, words);
    };
    const laid = (name, value) => page.waitForFunction(([name, value]) => document.documentElement.dataset[name] === value, [name, value]);
    await key(page, "g");
    await laid("side", "folded");
    await key(page, "b");
    await laid("controls", "tall");
    await grows("b", "with controls and side folded the picture grows");
    // Each button says what it will do, and does it.
    equal([await page.textContent("#controls-size"), await page.textContent("#side-fold")], ["Show controls", "Show side"], "what the buttons say");
    for (const tab of ["shots-panel", "look-panel", "history-panel", "figures", "settings"]) {
        equal(await page.$eval(`#${tab}`, (panel) => getComputedStyle(panel).display), "none", `${tab} while the controls are hidden`);
    }
    await key(page, "b");
    await key(page, "g");
    await becomes(page, (state) => state.layout.side === "open" && state.layout.controls === "low");
    return width;
}

// An overlay comes and goes beside the picture, which keeps its size; its settings and its key are whole.
export async function overlays(page) {
    for (const side of ["open", "folded"]) {
        if (side === "folded") await key(page, "g");
        await page.waitForFunction((side) => document.documentElement.dataset.side === side, side);
        for (const mode of side === "open" ? ["look", "divide"] : ["look"]) {
            await page.check(`[name=mode][value=${mode}]`);
            await ready(page);
            const before = await box(page, "canvas");
            for (const kind of mode === "look" ? ["ladder", "range", "none"] : ["clip", "key", "none"]) {
                await page.selectOption("#overlay", kind);
                if (kind !== "none") await becomes(page, new Function("state", `return state.overlay?.kind === "${kind}"`));
                await ready(page);
                equal(await box(page, "canvas"), before, `the picture under ${kind}, the side ${side}, ${mode}`);
                const cut = await page.$$eval("#overlay-about .entry", (all) => all.filter((one) => one.checkVisibility()).filter((one) => {
                    const [inner, outer] = [one.getBoundingClientRect(), one.closest("#side, #below").getBoundingClientRect()];
                    return inner.right > outer.right || inner.bottom > innerHeight;
                }).map((one) => one.textContent));
                equal(cut, [], `zones of ${kind} that are cut, the side ${side}`);
            }
        }
    }
    await key(page, "g");
    await page.check("[name=mode][value=look]");
    await becomes(page, (state) => state.layout.side === "open");
}

// Every key in a table, by a key; letters act after a choice in a list, and Escape leads from it to the picture.
export async function keyTable(page) {
    await page.focus("#pick-camera");
    await page.keyboard.press("?");
    await page.locator("#keys-table").waitFor();
    const rows = await page.$$eval("#keys-table tbody tr", (rows) => rows.map((row) => row.children[0].textContent));
    for (const wanted of ["F", "B", "Control S", "Space, held"]) assert(rows.includes(wanted), `the table of keys has no ${wanted}`);
    const surround = await state(page, (state) => state.layout.surround);
    await page.keyboard.press("u");
    equal(await state(page, (state) => state.layout.surround), surround, "a letter over the table");
    await page.keyboard.press("Escape");
    await page.locator("#keys-table").waitFor({ state: "hidden" });
    const camera = await state(page, (state) => state.pick.camera);
    await page.focus("#pick-camera");
    await page.keyboard.press("b");
    await becomes(page, (state) => state.layout.controls === "tall");
    equal(await state(page, (state) => state.pick.camera), camera, "the camera after a letter in its list");
    for (const controls of ["folded", "low"]) {
        await page.keyboard.press("b");
        await becomes(page, new Function("state", `return state.layout.controls === "${controls}"`));
    }
    await page.keyboard.press("Escape");
    equal(await page.evaluate(() => document.activeElement.id), "picture", "where Escape leads from a list");
    // Around the tabs, and to their ends.
    await page.focus("#tab-steps");
    for (const [press, tab] of [["End", "settings"], ["ArrowRight", "shots"], ["ArrowLeft", "settings"], ["Home", "shots"], ["ArrowRight", "steps"]]) {
        await page.keyboard.press(press);
        equal(await page.evaluate(() => document.activeElement.id), `tab-${tab}`, `${press} among the tabs`);
    }
}

// At the usual height a step can be worked whole: every setting of it in sight, its name too, wherever the steps are scrolled.
export async function steps(page) {
    const cut = await page.$$eval(".step", (all) => all.flatMap((step) => {
        const { bottom } = document.getElementById("steps").getBoundingClientRect();
        return [...step.querySelectorAll(".field, summary")].filter((one) => one.checkVisibility() && one.getBoundingClientRect().bottom > bottom + 1).map((one) => `${step.dataset.do} ${one.dataset.key ?? "summary"}`);
    }));
    equal(cut, [], "settings under the edge of the steps");
    const names = await page.evaluate(async () => {
        const list = document.getElementById("steps");
        const found = [];
        for (const step of list.children) {
            list.scrollLeft = step.offsetLeft - list.offsetLeft + Math.max(step.offsetWidth - 360, 0);
            const [name, outer] = [step.querySelector("h3").getBoundingClientRect(), list.getBoundingClientRect()];
            if (name.left < outer.left - 1 || name.right > outer.right) found.push(step.dataset.do);
        }
        list.scrollLeft = 0;
        return found;
    });
    equal(names, [], "steps whose name is out of sight");
}

// The picture alone, by a key there and back.
export async function alone(page) {
    await key(page, "f");
    await until(async () => {
        const [picture, window] = [await box(page, "canvas"), await page.evaluate(() => [innerWidth, innerHeight])];
        return picture.width >= window[0] - 1 || picture.height >= window[1] - 1;
    }, "the picture has the whole window");
    assert(!(await page.isVisible("#controls")) && !(await page.isVisible("#side")), "something stands beside the picture alone");
    // What it is of, in a line by a key.
    assert(!(await page.isVisible("#alone-line")), "the line is there without being asked for");
    await page.keyboard.press("i");
    await page.waitForFunction(() => /^No shot .*night exterior .*EI \d+/.test(document.getElementById("alone-line").textContent));
    await page.keyboard.press("i");
    await page.locator("#alone-line").waitFor({ state: "hidden" });
    await page.keyboard.press("f");
    await page.locator("#controls").waitFor();
    await page.evaluate(() => (document.fullscreenElement ? document.exitFullscreen() : null));
    await page.setViewportSize({ width: 1280, height: 800 });
}

// A pixel of the canvas is one of the screen, then two by two; and it is moved by keys and by the pointer.
export async function zoom(page) {
    await page.setViewportSize({ width: 700, height: 620 });
    const size = await page.evaluate(() => document.getElementById("canvas").width);
    for (const times of [1, 2]) {
        await key(page, "z");
        await until(async () => (await box(page, "canvas")).width === times * size, `${times}:1 is ${times * size} pixels wide`);
    }
    const at = () => box(page, "canvas").then(({ left, top }) => `${left} ${top}`);
    const middle = await at();
    await key(page, "d");
    await until(async () => (await at()) !== middle, "a zoomed picture moves by a key");
    const moved = await at();
    const fit = await box(page, "fit");
    await page.mouse.move(fit.left + 300, fit.top + 100);
    await page.mouse.down();
    await page.mouse.move(fit.left + 340, fit.top + 100, { steps: 4 });
    await page.mouse.up();
    await until(async () => (await at()) !== moved, "and by the pointer");
    await key(page, "z");
    await becomes(page, (state) => state.layout.zoom === 0);
    await page.setViewportSize({ width: 1280, height: 800 });
    await ready(page);
}

// What is chosen in a list can be read in it.
export async function chosen(page) {
    for (const tab of ["settings", "steps"]) {
        await page.click(`#tab-${tab}`);
        await readable(page);
    }
}

async function readable(page) {
    const cut = await page.evaluate(() => {
        const pen = document.createElement("canvas").getContext("2d");
        return [...document.querySelectorAll("select")].filter((s) => s.checkVisibility() && s.selectedOptions[0]).flatMap((s) => {
            const style = getComputedStyle(s);
            pen.font = `${style.fontSize} ${style.fontFamily}`;
            // The arrow of the list, as Chromium draws it.
            const room = s.clientWidth - parseFloat(style.paddingLeft) - parseFloat(style.paddingRight) - 18;
            const { text } = s.selectedOptions[0];
            return pen.measureText(text).width > room ? [`${s.id}: ${text}`] : [];
        });
    });
    equal(cut, [], "lists that cut what is chosen");
}

// Surround and page are of the user, and the same after the server was ended.
export async function stored(studio, page) {
    const mat = () => page.evaluate(() => getComputedStyle(document.getElementById("stage")).backgroundColor);
    equal(await mat(), "rgb(30, 30, 30)", "the surround at first");
    await key(page, "u");
    await until(async () => (await mat()) === "rgb(119, 119, 119)", "the surround is near mid-grey");
    await choose(page, "#page-light", "light");
    await until(async () => /light/.test(await page.getAttribute("html", "data-page")), "the page is light");
    // At once: what was chosen is on its way.
    await page.reload();
    await ready(page);
    equal([await mat(), await page.getAttribute("html", "data-page")], ["rgb(119, 119, 119)", "light"], "after a reload");
    // And the tab, with what is open beside the picture.
    await page.click("#tab-figures");
    await page.evaluate(() => (document.getElementById("scopes-choose").open = true));
    await page.waitForFunction(() => /scopes-choose/.test(sessionStorage.getItem("page")));
    await page.reload();
    await ready(page);
    equal([await state(page, (state) => state.layout.tab), await page.$eval("#scopes-choose", (fold) => fold.open)], ["figures", true], "tab and scopes after a reload");
    await page.evaluate(() => (document.getElementById("scopes-choose").open = false));
    // With letters off, none of them is a key.
    await page.click("#tab-settings");
    await page.uncheck("#letters");
    await key(page, "u");
    equal(await state(page, (state) => state.layout.surround), "grey", "a letter that is no key");
    await page.check("#letters");
    await page.click("#tab-steps");
    await choose(page, "#page-light", "dark");
    for (const surround of ["black", "dim"]) {
        await key(page, "u");
        await until(() => state(page, (state) => state.layout.surround).then((s) => s === surround), `the surround is ${surround}`);
    }
    await until(() => /"dim"/.test(studio.pageSettings()), "the last choice is what is stored");
}
