// Rates of the page of `preview`, measured in Chromium; see `page`.
//
//     node page.mjs RUSHLIGHT SHOW

import { spawnSync } from "node:child_process";
import { readFileSync, readdirSync } from "node:fs";
import { join } from "node:path";
import { Studio, becomes, settled } from "./harness.mjs";

const [rushlight, show] = process.argv.slice(2);
// Milliseconds until a live picture runs evenly, and over which it is measured.
const [STARTS, MEASURED] = [5000, 8000];
// Of a tick of the system's clock for processes.
const TICK = 10;

// Processor time of this process and all that it started, in milliseconds, by the kind of process.
function spent() {
    const [children, known] = [{}, {}];
    for (const pid of readdirSync("/proc").filter((name) => /^\d+$/.test(name))) {
        try {
            const stat = readFileSync(`/proc/${pid}/stat`, "utf8");
            const [, parent, ...fields] = stat.slice(stat.lastIndexOf(")") + 2).split(" ");
            const words = readFileSync(`/proc/${pid}/cmdline`, "utf8").split("\0");
            const kind = /--type=(\S+)/.exec(words.join(" "))?.[1] ?? words[0].split("/").at(-1);
            known[pid] = { kind, time: (Number(fields[9]) + Number(fields[10])) * TICK };
            (children[parent] ??= []).push(pid);
        } catch {
            // It has ended meanwhile.
        }
    }
    const sums = {};
    const add = (pid) => {
        if (known[pid]) sums[known[pid].kind] = (sums[known[pid].kind] ?? 0) + known[pid].time;
        for (const child of children[pid] ?? []) add(child);
    };
    add(String(process.pid));
    return sums;
}

async function live(studio, scopes) {
    const page = await studio.open();
    if (!scopes) await page.evaluate(() => ["scope-stops", "scope-display"].forEach((id) => document.getElementById(id).click()));
    await page.waitForTimeout(STARTS);
    const drawn = () => page.evaluate(async () => ({ count: (await import("./state.js")).state.live.drawn, now: performance.now() }));
    const [before, was] = [await drawn(), spent()];
    await page.waitForTimeout(MEASURED);
    const [after, is] = [await drawn(), spent()];
    const frames = after.count - before.count;
    const rate = (1000 * frames) / (after.now - before.now);
    const each = Object.entries(is).map(([kind, time]) => [kind, (time - (was[kind] ?? 0)) / frames]).filter(([, time]) => time > 0.5);
    const all = each.reduce((sum, [, time]) => sum + time, 0);
    console.log(`live picture, ${scopes ? "two scopes" : "no scopes"}: ${rate.toFixed(1)} frames/s; ${all.toFixed(0)} ms of processor time a frame: `
        + each.map(([kind, time]) => `${kind} ${time.toFixed(1)}`).join(", "));
    await page.close();
}

async function scopes(studio) {
    const file = join(studio.scratch, "uhd.png");
    const options = ["-v", "error", "-y", "-f", "lavfi", "-i", "testsrc2=s=3840x2160:d=1:r=1", "-frames:v", "1", "-pix_fmt", "rgb48le", file];
    if (spawnSync("ffmpeg", options).status !== 0) throw new Error("ffmpeg made no picture");
    const page = await studio.open();
    page.setDefaultTimeout(120000);
    const before = await page.evaluate(async () => (await import("./state.js")).state.frame.id);
    await page.setInputFiles("#frame-file", file);
    await page.waitForFunction(async (id) => (await import("./state.js")).state.frame.id !== id, before);
    await settled(page);
    await becomes(page, (state) => state.counted?.frame === state.frame.id, "a first count", 120000);
    const { counts, pixels, of } = await page.evaluate(async (over) => {
        const { state } = await import("./state.js");
        const { nudge } = await import("./stage.js");
        const [start, seen] = [performance.now(), new Set()];
        for (let i = 0; performance.now() - start < over; i += 1) {
            nudge(((i % 16) - 8) / 8);
            await new Promise((done) => requestAnimationFrame(done));
            seen.add(state.counted);
        }
        return { counts: (1000 * seen.size) / (performance.now() - start), pixels: state.counted.pixels, of: state.frame.width * state.frame.height };
    }, MEASURED);
    console.log(`scopes of 3840 x 2160 while the exposure moves: ${counts.toFixed(1)} counts/s, of ${pixels} of ${of} pixels`);
}

const studio = new Studio(rushlight, show);
try {
    await studio.browse();
    await studio.start();
    await scopes(studio);
    await studio.kill();
    await studio.start("--live", "testsrc2=s=960x540:r=24", "--live-format", "lavfi");
    // The page remembers that they are off.
    for (const some of [true, false]) await live(studio, some);
} finally {
    await studio.end();
}
