// Whether everyone can use it: by keys alone, in light and dark, wide and narrow.

import { join } from "node:path";
import { assert, becomes, choose, equal, ready, settled, state, until } from "./harness.mjs";

const focused = (page) => page.evaluate(() => {
    const node = document.activeElement;
    const { width, height, top, bottom } = node.getBoundingClientRect();
    const name = node.getAttribute("aria-label") || node.labels?.[0]?.textContent || document.getElementById(node.getAttribute("aria-labelledby"))?.textContent || node.textContent;
    const { outlineStyle, outlineWidth } = getComputedStyle(node);
    return {
        id: node.id, focus: node.dataset.focus, tag: node.tagName, name: name?.trim() ?? "", seen: width > 0 && height > 0 && bottom > 0 && top < innerHeight,
        ring: outlineStyle !== "none" && parseFloat(outlineWidth) >= 1,
    };
});

// Tab alone leads to every control, each has a name, is in sight and shows where one is.
export async function walk(page) {
    await page.focus("#picture");
    const wanted = await page.$$eval("button, input, select, summary, [tabindex]", (nodes) => {
        const reached = (n) => n.checkVisibility() && !n.disabled && n.tabIndex >= 0 && (n.type !== "radio" || n.checked);
        return nodes.filter(reached).length;
    });
    const seen = new Set();
    for (let i = 0; i < wanted + 5; i += 1) {
        if (i > 0) await page.keyboard.press("Tab");
        const at = await focused(page);
        if (at.tag === "BODY") break;
        assert(at.name !== "", `no name: ${JSON.stringify(at)}`);
        assert(at.seen, `out of sight with the focus on it: ${JSON.stringify(at)}`);
        assert(at.ring, `no ring: ${JSON.stringify(at)}`);
        seen.add(await page.evaluate(() => [...document.querySelectorAll("*")].indexOf(document.activeElement)));
    }
    assert(seen.size >= wanted - 2, `Tab reaches ${seen.size} of ${wanted} controls`);
    return seen.size;
}

// From one end of the work to the other without a pointer.
export async function keys(page) {
    await page.check("[name=mode][value=divide]");
    await page.locator("#divide").waitFor();
    await page.focus("#divide");
    const divide = () => page.getAttribute("#divide", "aria-valuenow").then(Number);
    const before = await divide();
    for (const key of ["ArrowLeft", "Shift+ArrowLeft"]) await page.keyboard.press(key);
    await until(async () => (await divide()) === before - 11, "the divide moves by keys");
    await page.keyboard.press("Home");
    await until(async () => (await divide()) === 0, "the divide goes home");
    await page.focus("#cross");
    const cross = await state(page, (state) => state.cross);
    for (const key of ["ArrowRight", "Shift+ArrowDown"]) await page.keyboard.press(key);
    equal(await state(page, (state) => state.cross), { x: cross.x + 1, y: cross.y + 10 }, "the cross by keys");
    await page.waitForFunction(({ x, y }) => document.getElementById("reading-says").textContent.includes(`column ${x}, row ${y}`), { x: cross.x + 1, y: cross.y + 10 });
    await page.focus("#picture");
    await page.keyboard.down(" ");
    assert(await state(page, (state) => state.view.held), "Space holds the other side");
    await page.keyboard.up(" ");
    assert(!(await state(page, (state) => state.view.held)), "and lets it go");
    // A slider by keys, then undone by keys.
    const slider = page.locator(".step[data-do=exposure] input[type=range]").first();
    const value = () => state(page, (state) => state.look.steps.find((s) => s.do === "exposure").values.stops);
    const was = await value();
    await slider.focus();
    await page.keyboard.press("ArrowRight");
    await until(async () => (await value()) > was, "a slider moves by keys");
    await page.keyboard.press("Control+z");
    await until(async () => (await value()) === was, "Control Z undoes");
    await page.keyboard.press("Control+Shift+z");
    await until(async () => (await value()) > was, "Control Shift Z does again");
    await page.keyboard.press("Control+z");
    await until(async () => (await value()) === was, "and undone");
    await page.focus("#divide");
    for (let i = 0; i < 5; i += 1) await page.keyboard.press("PageUp");
}

// The least contrast of text and its ground, by WCAG 2.2 (relative luminance, 1.4.3): 4.5, or 3 for large type.
async function contrast(page) {
    return page.evaluate(() => {
        const parts = (css) => css.match(/[\d.]+/g).map(Number);
        const linear = (v) => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4);
        const luminance = ([r, g, b]) => 0.2126 * linear(r / 255) + 0.7152 * linear(g / 255) + 0.0722 * linear(b / 255);
        const over = (top, under) => {
            const alpha = top[3] ?? 1;
            return [0, 1, 2].map((i) => alpha * top[i] + (1 - alpha) * under[i]);
        };
        // Grounds from the outermost in, with the opacity of each element on the way.
        const seen = (node, ink) => {
            const chain = [];
            for (let n = node; n instanceof Element; n = n.parentElement) chain.unshift(getComputedStyle(n));
            let ground = [255, 255, 255];
            let opacity = 1;
            for (const style of chain) {
                ground = over(parts(style.backgroundColor), ground);
                opacity *= Number(style.opacity);
            }
            return [over([...parts(ink).slice(0, 3), opacity], ground), ground];
        };
        const ratio = ([a, b]) => {
            const [high, low] = [luminance(a), luminance(b)].sort((x, y) => y - x);
            return (high + 0.05) / (low + 0.05);
        };
        const found = [];
        const note = (node, ink, text, size, weight) => {
            const large = size >= 24 || (size >= 18.66 && weight >= 700);
            found.push({ text: text.slice(0, 40), ratio: ratio(seen(node, ink)), needs: large ? 3 : 4.5 });
        };
        const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
        for (let text = walker.nextNode(); text; text = walker.nextNode()) {
            const node = text.parentElement;
            if (!text.textContent.trim() || !node.checkVisibility() || node.closest(":disabled, option, datalist")) continue;
            const style = getComputedStyle(node);
            const ink = node instanceof SVGElement ? style.fill : style.color;
            note(node, ink, text.textContent.trim(), parseFloat(style.fontSize), Number(style.fontWeight));
        }
        for (const control of document.querySelectorAll("select, input:not([type=range], [type=radio], [type=checkbox], [type=file])")) {
            if (!control.checkVisibility() || control.disabled) continue;
            const style = getComputedStyle(control, control.value === "" && control.placeholder ? "::placeholder" : null);
            note(control, style.color, control.value || control.placeholder, parseFloat(style.fontSize), 400);
        }
        return found;
    });
}

async function fits(page, words) {
    const [needs, has] = await page.evaluate(() => [document.documentElement.scrollWidth, document.documentElement.clientWidth]);
    assert(needs <= has, `${words}: ${needs} pixels wide in ${has}`);
}

async function shot(page, folder, name, options) {
    if (folder) await page.screenshot({ path: join(folder, `${name}.png`), ...options });
}

const SIZES = [[1280, 800], [1920, 1080], [3840, 2160], [800, 900], [640, 400]];
const TABS = ["light", "dark"].flatMap((light) => ["steps", "figures", "settings"].map((tab) => [light, tab]));

// Every size and scheme: text has its contrast, nothing runs out of the page, and the pictures are kept to be looked at.
export async function looks(page, folder) {
    let least = Infinity;
    for (const [light, tab] of TABS) {
        await page.setViewportSize({ width: 1280, height: 800 });
        await choose(page, "#page-light", light);
        await page.click(`#tab-${tab}`);
        for (const [width, height] of SIZES) {
            await page.setViewportSize({ width, height });
            await ready(page);
            const name = `${width}-${light}-${tab}`;
            await fits(page, name);
            const texts = await contrast(page);
            assert(texts.length > 30, `${name}: only ${texts.length} texts were found`);
            for (const { text, ratio, needs } of texts) assert(ratio >= needs, `${name}: \u201c${text}\u201d has a contrast of ${ratio.toFixed(2)}`);
            least = Math.min(least, ...texts.map((t) => t.ratio));
            await shot(page, folder, name, { fullPage: width < 1000 });
        }
    }
    await page.setViewportSize({ width: 1280, height: 800 });
    await page.click("#tab-steps");
    return least;
}

// Views that the sizes do not show.
export async function views(page, folder) {
    await page.selectOption("#overlay", "ladder");
    await becomes(page, (state) => state.overlay?.kind === "ladder");
    await until(async () => (await page.$$("#overlay-key svg")).length >= 8, "a key of the ladder");
    await ready(page);
    await shot(page, folder, "overlay-dark");
    await page.selectOption("#overlay", "clip");
    await becomes(page, (state) => state.overlay?.kind === "clip");
    await ready(page);
    await shot(page, folder, "clip-dark");
    await page.selectOption("#overlay", "none");
    await choose(page, "#page-light", "light");
    await page.check("[name=mode][value=compare]");
    await page.selectOption("#other", "day@saved");
    await page.waitForFunction(() => document.querySelector("#numbers table"));
    await settled(page);
    await shot(page, folder, "compare-light");
    await page.setViewportSize({ width: 800, height: 900 });
    await ready(page);
    await fits(page, "comparing at 800");
    await shot(page, folder, "compare-800");
    await page.setViewportSize({ width: 1280, height: 800 });
    await page.check("[name=mode][value=divide]");
    await choose(page, "#screen", "srgb");
    await page.selectOption("#pick-display", "hdr");
    await page.waitForFunction(() => /HDR/.test(document.getElementById("hdr").textContent) && document.getElementById("hdr").checkVisibility());
    await settled(page);
    await shot(page, folder, "hdr-light");
    await page.selectOption("#pick-display", "onset");
    await choose(page, "#page-light", "dark");
}
