// What is on the canvas, against the exact path and against published numbers.

import { readFileSync } from "node:fs";
import { assert, becomes, choose, equal, ready, says, settled, state } from "./harness.mjs";

// 8-bit code values that a pixel of the canvas may be off the exact path at 65 points: half of one by rounding, the rest by the cube.
export const LIMIT = 1.5;
// And off the cube that `bake` writes, at as many points: rounding, and f32.
const ROUNDING = 0.52;

// ITU-R BT.1886 of a black at zero, and IEC 61966-2-1: what an sRGB screen must be given to show a BT.709 monitor's light.
export const bt1886ToSrgb = (v) => {
    const light = Math.min(Math.max(v, 0), 1) ** 2.4;
    return light <= 0.0031308 ? 12.92 * light : 1.055 * light ** (1 / 2.4) - 0.055;
};

// Pixels spread over the frame, the steps of a lattice that no pattern of the picture shares.
export function places(width, height, count) {
    return Array.from({ length: count }, (_, i) => ({ x: Math.floor(((i * 0.754877666) % 1) * width), y: Math.floor(((i * 0.569840291) % 1) * height) }));
}

// 8-bit pixels of the canvas, and signals of the frame, at `at`.
export async function read(page, at) {
    return page.evaluate(async (at) => {
        const { state } = await import("./state.js");
        const canvas = document.getElementById("canvas");
        const copy = document.createElement("canvas");
        Object.assign(copy, { width: canvas.width, height: canvas.height });
        const context = copy.getContext("2d", { willReadFrequently: true });
        context.drawImage(canvas, 0, 0);
        const { data } = context.getImageData(0, 0, copy.width, copy.height);
        const { width, signal } = state.frame;
        return {
            pixels: at.map(({ x, y }) => [0, 1, 2].map((i) => data[4 * (y * copy.width + x) + i])),
            signals: at.map(({ x, y }) => [0, 1, 2].map((i) => signal[4 * (y * width + x) + i] / 65535)),
        };
    }, at);
}

export const sample = async (page, count = 400) => {
    const { width, height } = await state(page, (state) => ({ width: state.frame.width, height: state.frame.height }));
    return read(page, places(width, height, count));
};

// The greatest distance between pixels and what they should be, in 8-bit code values.
function furthest(pixels, wanted) {
    return Math.max(...pixels.flatMap((pixel, i) => pixel.map((v, c) => Math.abs(v - 255 * Math.min(Math.max(wanted[i][c], 0), 1)))));
}

export async function agrees(studio, page, show, words) {
    await settled(page);
    const { pixels, signals } = await sample(page);
    assert(new Set(pixels.map(String)).size > 100, `${words}: the canvas is empty`);
    const exact = studio.probe(show, signals).map((colour) => colour.out);
    const screen = await state(page, (state) => state.view.screen);
    const far = furthest(pixels, screen === "srgb" ? exact.map((rgb) => rgb.map(bt1886ToSrgb)) : exact);
    assert(far <= LIMIT, `${words}: a pixel is ${far.toFixed(2)} code values from the exact path`);
    return far;
}

export async function pixels(studio, page) {
    await page.check("[name=mode][value=look]");
    await choose(page, "#screen", "none");
    await settled(page);
    const { pixels, signals } = await sample(page);
    const baked = furthest(pixels, studio.baked(signals, 33));
    assert(baked <= ROUNDING, `a pixel is ${baked.toFixed(2)} code values from the cube that is baked`);
    await choose(page, "#points", "65");
    await choose(page, "#screen", "srgb");
    const asSrgb = await agrees(studio, page, studio.show, "as sRGB");
    await choose(page, "#screen", "none");
    const asCodes = await agrees(studio, page, studio.show, "code values");

    // The other side of the divide is the camera's signal as recorded.
    await page.check("[name=mode][value=divide]");
    await settled(page);
    const width = await state(page, (state) => state.frame.width);
    const at = places(width / 2 - 2, 300, 100);
    const left = await read(page, at);
    assert(furthest(left.pixels, left.signals) <= ROUNDING, "left of the divide is not the camera's signal");
    return { baked, asSrgb, asCodes };
}

// The nudge is the camera's own curve with a gain in light: an exposure step at the head of the look says the same.
export async function nudges(studio, page) {
    await page.check("[name=mode][value=look]");
    await page.focus("#picture");
    for (const key of ["Shift+ArrowUp", "ArrowUp", "ArrowDown", "ArrowDown"]) await page.keyboard.press(key);
    await says(page, "#nudge", "+0.75 stops");
    const stronger = studio.aside("nudged", (text) => text.replace("stops = -0.4", "stops = 0.35"));
    await settled(page);
    const { pixels, signals } = await sample(page);
    // Where the nudged signal would leave 0..1, the cube ends.
    const inside = signals.map((s) => s.every((v) => v > 0.1 && v < 0.85));
    const kept = (list) => list.filter((_, i) => inside[i]);
    const exact = studio.probe(stronger, kept(signals)).map((colour) => colour.out);
    const far = furthest(kept(pixels), exact);
    assert(kept(pixels).length > 150 && far <= LIMIT, `nudged: a pixel is ${far.toFixed(2)} code values off`);
    await page.keyboard.press("0");
    await says(page, "#nudge", "0.00 stops");
    return far;
}

// The readings beside the picture are those of the program.
export async function readings(studio, page) {
    const at = { x: 200, y: 100 };
    await page.evaluate(async (at) => (await import("./stage.js")).crossTo(at), at);
    await page.waitForFunction(() => /column 200, row 100/.test(document.getElementById("reading-says").textContent));
    const { signals: [signal] } = await read(page, [at]);
    const [colour] = studio.probe(studio.show, [signal]);
    const rows = await page.$$eval("#reading tbody tr", (rows) => rows.map((row) => [...row.children].map((cell) => cell.textContent)));
    equal(rows.map((row) => row[0]), colour.stages.map((stage) => stage.name), "the stages");
    for (const [i, stage] of colour.stages.entries()) {
        for (const c of [0, 1, 2]) {
            const shown = Number(rows[i][c + 1].replace("\u2212", "-"));
            assert(Math.abs(shown - stage.rgb[c]) <= 0.006 * Math.abs(stage.rgb[c]) + 0.00006, `${stage.name}: ${shown} for ${stage.rgb[c]}`);
        }
    }
}

// The shader's CIEDE2000 against colour-science (fixtures/reference/difference.csv says how it was made).
export async function differences(page, table) {
    const rows = readFileSync(table, "utf8").split("\n").filter((line) => line.startsWith("ciede2000,")).map((line) => line.split(",").slice(1).map(Number));
    assert(rows.length > 50, "too few rows of CIEDE2000");
    const got = await page.evaluate(async (rows) => {
        const { DIFFERENCE, VERTEX } = await import("./shaders.js");
        const canvas = new OffscreenCanvas(1, 1);
        const gl = canvas.getContext("webgl2");
        gl.getExtension("EXT_color_buffer_float");
        const program = gl.createProgram();
        const main = "uniform vec3 one, two; out vec4 apart; void main() { apart = vec4(difference(one, two)); }";
        for (const [kind, text] of [[gl.VERTEX_SHADER, VERTEX], [gl.FRAGMENT_SHADER, `#version 300 es\nprecision highp float;\n${DIFFERENCE}\n${main}`]]) {
            const shader = gl.createShader(kind);
            gl.shaderSource(shader, text);
            gl.compileShader(shader);
            gl.attachShader(program, shader);
        }
        gl.linkProgram(program);
        gl.useProgram(program);
        const target = gl.createTexture();
        gl.bindTexture(gl.TEXTURE_2D, target);
        gl.texStorage2D(gl.TEXTURE_2D, 1, gl.RGBA32F, 1, 1);
        gl.bindFramebuffer(gl.FRAMEBUFFER, gl.createFramebuffer());
        gl.framebufferTexture2D(gl.FRAMEBUFFER, gl.COLOR_ATTACHMENT0, gl.TEXTURE_2D, target, 0);
        gl.viewport(0, 0, 1, 1);
        return rows.map((row) => {
            gl.uniform3f(gl.getUniformLocation(program, "one"), ...row.slice(0, 3));
            gl.uniform3f(gl.getUniformLocation(program, "two"), ...row.slice(3, 6));
            gl.drawArrays(gl.TRIANGLES, 0, 3);
            const out = new Float32Array(4);
            gl.readPixels(0, 0, 1, 1, gl.RGBA, gl.FLOAT, out);
            return out[0];
        });
    }, rows);
    for (const [i, row] of rows.entries()) {
        assert(Math.abs(got[i] - row[6]) <= 2e-3 + 2e-4 * row[6], `CIEDE2000 of ${row}: ${got[i]}`);
    }
    return rows.length;
}

// Three large pictures, each with its name directly under it, and the numbers in the fourth place, whole.
async function panes(page) {
    await ready(page);
    const found = await page.evaluate(async () => {
        const { state } = await import("./state.js");
        const box = (id) => document.getElementById(id).getBoundingClientRect();
        const [canvas, stage, numbers] = [box("canvas"), box("stage"), box("numbers")];
        const pixel = canvas.width / document.getElementById("canvas").width;
        const high = state.frame.height * pixel;
        return {
            part: canvas.width / stage.width, high: canvas.height / stage.height, one: (state.frame.width * pixel) / stage.width,
            gaps: [box("pane-old").top - canvas.top - high, box("pane-new").top - canvas.top - high, box("pane-map").top - canvas.bottom],
            beside: numbers.left - canvas.left - state.frame.width * pixel, below: numbers.top - box("pane-new").bottom,
            table: numbers.right - document.querySelector("#numbers table").getBoundingClientRect().right,
        };
    });
    assert(found.part > 0.9 || found.high > 0.9, `an empty field: ${JSON.stringify(found)}`);
    assert(found.one > 0.4, `a picture of a comparison is small: ${JSON.stringify(found)}`);
    for (const gap of found.gaps) assert(Math.abs(gap) < 3, `a name is not under its picture: ${JSON.stringify(found)}`);
    assert(found.beside >= 0 && found.below > -3 && found.table > 0, `the numbers: ${JSON.stringify(found)}`);
}

// Old against new: nothing between a look and itself, much between two looks, and the numbers of the program beside them.
export async function comparing(page) {
    await choose(page, "#screen", "srgb");
    await page.check("[name=mode][value=compare]");
    await page.selectOption("#other", "night@saved");
    await page.waitForFunction(() => document.querySelector("#numbers table"));
    await settled(page);
    const map = async () => {
        const { width, height } = await state(page, (state) => ({ width: state.frame.width, height: state.frame.height }));
        const top = await page.$eval("#canvas", (canvas) => canvas.height) - height;
        const { pixels } = await read(page, places(width, height, 400).map(({ x, y }) => ({ x, y: y + top })));
        return pixels;
    };
    const first = (await map()).map(String);
    equal([...new Set(first)], ["28,28,28"], "the difference of a look from itself");
    await page.selectOption("#other", "day@saved");
    await becomes(page, (state) => state.other && state.compare && /print/i.test(state.compare.changes.join()));
    await settled(page);
    assert(new Set((await map()).map(String)).size >= 3, "night and day are told apart by too few bands");
    await panes(page);
    const most = await page.$$eval("#numbers tbody td:last-child", (cells) => cells.map((cell) => Number(cell.textContent)));
    assert(most.length >= 3 && most.some((v) => v > 1), `the numbers: ${most}`);
    await page.check("[name=mode][value=look]");
    await choose(page, "#screen", "none");
    await ready(page);
}
