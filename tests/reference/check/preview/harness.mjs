// A copy of the show, the server on it, a page in Chromium, and what the program itself says of a colour.

import { spawn, spawnSync } from "node:child_process";
import { cpSync, mkdirSync, mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from "node:fs";
import net from "node:net";
import { tmpdir } from "node:os";
import { dirname, join } from "node:path";
import { chromium } from "playwright-core";

// Long enough for a busy machine; nothing here is a measure of speed.
export const PATIENCE = 30000;

export function assert(holds, words) {
    if (!holds) throw new Error(words);
}

export const equal = (got, wanted, words) => assert(JSON.stringify(got) === JSON.stringify(wanted), `${words}: ${JSON.stringify(got)}, not ${JSON.stringify(wanted)}`);

// Waits until `holds` gives something true, and gives it.
export async function until(holds, words, patience = PATIENCE) {
    const end = Date.now() + patience;
    for (;;) {
        const found = await holds();
        if (found) return found;
        assert(Date.now() < end, `in vain: ${words}`);
        await new Promise((done) => setTimeout(done, 25));
    }
}

// Waits until what `look` gives has not changed for half a second.
export async function stays(look) {
    let [last, since] = [await look(), Date.now()];
    await until(async () => {
        const now = await look();
        if (now !== last) [last, since] = [now, Date.now()];
        return Date.now() - since > 500;
    }, "it comes to rest");
}

function freePort() {
    return new Promise((done) => {
        const server = net.createServer().listen(0, "127.0.0.1", () => {
            const { port } = server.address();
            server.close(() => done(port));
        });
    });
}

export class Studio {
    constructor(rushlight, show) {
        this.rushlight = rushlight;
        this.scratch = mkdtempSync(join(tmpdir(), "rushlight-preview-"));
        this.folder = join(this.scratch, "show");
        cpSync(dirname(show), this.folder, { recursive: true, filter: (from) => !from.endsWith("brackets") });
        this.show = join(this.folder, "show.toml");
        this.night = join(this.folder, "looks/night.toml");
        this.tokens = join(this.scratch, "token");
        this.git("init", "--quiet");
        this.git("add", ".");
        this.git("-c", "user.name=Saltmarsh", "-c", "user.email=crew@saltmarsh.invalid", "commit", "--quiet", "-m", "As it began");
    }

    git(...options) {
        const run = spawnSync("git", ["-C", this.folder, ...options], { encoding: "utf8" });
        assert(run.status === 0, `git ${options[0]}: ${run.stderr}`);
    }

    // A clip of RGB without loss: a second of one colour, then a second of another, in 8-bit code values.
    clip(first, second) {
        const file = join(this.scratch, "clip.mov");
        const colour = (rgb) => `color=c=#${Buffer.from(rgb).toString("hex")}:s=64x48:r=10:d=1,format=rgb24`;
        const options = ["-v", "error", "-f", "lavfi", "-i", colour(first), "-f", "lavfi", "-i", colour(second)];
        const run = spawnSync("ffmpeg", [...options, "-filter_complex", "[0][1]concat", "-c:v", "png", "-y", file], { encoding: "utf8" });
        assert(run.status === 0, `ffmpeg: ${run.stderr}`);
        return readFileSync(file);
    }

    // `more`: options beside those that every check has.
    async start(...more) {
        this.port ??= await freePort();
        const options = ["preview", this.show, "--no-open", "--port", String(this.port), "--token-file", this.tokens, "--look", "night", "--camera", "a", "--display", "onset", ...more];
        const from = process.env.RUSHLIGHT_PAGE_FROM;
        const env = { ...process.env, XDG_STATE_HOME: join(this.scratch, "state") };
        this.server = spawn(this.rushlight, from ? [...options, "--page-from", from] : options, { stdio: ["ignore", "pipe", "pipe"], env });
        let said = "";
        for (const stream of [this.server.stdout, this.server.stderr]) stream.on("data", (text) => (said += text));
        this.address = await until(() => {
            assert(this.server.exitCode === null, `the server ended: ${said}`);
            return /http:\S+/.exec(said)?.[0];
        }, "an address of the server");
    }

    async kill() {
        const ended = new Promise((done) => this.server.once("exit", done));
        this.server.kill("SIGKILL");
        await ended;
    }

    pageSettings() {
        return readFileSync(join(this.scratch, "state/rushlight/page.json"), "utf8");
    }

    text() {
        return readFileSync(this.night, "utf8");
    }

    write(text) {
        writeFileSync(this.night, text);
    }

    // The show in another folder, with the night look's text changed by `change`: what the page should come to by edits.
    aside(name, change) {
        const folder = join(this.scratch, name);
        cpSync(this.folder, folder, { recursive: true });
        const look = join(folder, "looks/night.toml");
        writeFileSync(look, change(readFileSync(look, "utf8")));
        return join(folder, "show.toml");
    }

    // What the exact path makes of signals, by the program itself.
    probe(show, signals, display = "onset", camera = "a") {
        const input = signals.map((s) => s.join(" ")).join("\n");
        const options = ["probe", show, "-", "--json", "--look", "night", "--camera", camera, "--display", display];
        const run = spawnSync(this.rushlight, options, { input, encoding: "utf8", maxBuffer: 1 << 28 });
        assert(run.status === 0, `probe: ${run.stderr}`);
        return JSON.parse(run.stdout).colours;
    }

    // What a reader of the cube that `bake` writes gets.
    baked(signals, points) {
        const out = join(this.scratch, "cubes");
        const options = ["bake", this.show, "--out", out, "--points", String(points), "--look", "night", "--camera", "a", "--display", "onset"];
        const run = spawnSync(this.rushlight, options, { encoding: "utf8" });
        assert(run.status === 0, `bake: ${run.stderr}`);
        const [cube] = readdirSync(out, { recursive: true }).filter((name) => name.endsWith(".cube"));
        const input = signals.map((s) => s.join(" ")).join("\n");
        const probe = spawnSync(this.rushlight, ["probe", join(out, cube), "-", "--json"], { input, encoding: "utf8", maxBuffer: 1 << 28 });
        assert(probe.status === 0, `probe: ${probe.stderr}`);
        return JSON.parse(probe.stdout).colours.map((colour) => colour.out);
    }

    async end() {
        if (this.server?.exitCode === null && this.server.signalCode === null) await this.kill();
        await this.browser?.close();
        rmSync(this.scratch, { recursive: true, force: true });
    }

    async browse() {
        // As on a machine without a graphics card: WebGL in software, and the page put together without it.
        const args = ["--no-sandbox", "--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader", "--disable-gpu-compositing", "--disable-background-networking"];
        this.browser = await chromium.launch({ executablePath: "/usr/bin/chromium", args });
    }

    // A page on the server. What goes wrong in it, and whatever it asks of elsewhere, is kept.
    async open(options = {}) {
        const page = await this.browser.newPage({ viewport: { width: 1280, height: 800 }, ...options });
        page.setDefaultTimeout(PATIENCE);
        page.wrongs = [];
        page.on("pageerror", (error) => page.wrongs.push(error.stack));
        page.on("console", (message) => /Content Security Policy/.test(message.text()) && page.wrongs.push(message.text()));
        page.on("request", (request) => {
            if (!request.url().startsWith(new URL(this.address).origin) && !request.url().startsWith("data:")) page.wrongs.push(`asked ${request.url()}`);
        });
        await page.goto(this.address);
        await ready(page);
        return page;
    }
}

// What `read` makes of the page's own state, without the tables and pixels.
export async function state(page, read) {
    const text = await page.evaluate(async () => {
        const { state } = await import("./state.js");
        return JSON.stringify(state, (_, value) => (ArrayBuffer.isView(value) ? undefined : value));
    });
    return read(JSON.parse(text));
}

// Until the page's state is so.
export const becomes = (page, holds, words = String(holds), patience = PATIENCE) => until(() => state(page, holds), words, patience);

// Until an element says this.
export const says = (page, selector, text) => page.waitForFunction(([selector, text]) => document.querySelector(selector)?.textContent === text, [selector, text]);

export async function ready(page) {
    await page.evaluate(async () => {
        const { state } = await import("./state.js");
        const whole = () => state.cube && state.frame && state.curve && state.reading && state.look;
        while (!whole()) await new Promise((done) => setTimeout(done, 10));
        // Drawn at the next frame.
        await new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));
    });
}

// Until the picture is of what is picked now, of the newest version of the look, at all of its points.
export async function settled(page) {
    await page.evaluate(async () => {
        const { state } = await import("./state.js");
        const pause = (ms) => new Promise((done) => setTimeout(done, ms));
        const fresh = ({ cube, look, view, pick, dragging }) => cube && !dragging && cube.version === look.version && cube.points === view.points
            && cube.asked.screen === view.screen && ["look", "camera", "display"].every((name) => cube.asked[name] === pick[name]);
        for (let still = 0, last = null; still < 4; await pause(25)) {
            still = fresh(state) && last === state.cube ? still + 1 : 0;
            last = state.cube;
        }
        await new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));
    });
}

// Chooses in a list of the controls, wherever it lies, and goes back to the steps.
export async function choose(page, selector, value) {
    const tab = await page.$eval(selector, (node) => node.closest("[role=tabpanel]").getAttribute("aria-labelledby"));
    await page.click(`#${tab}`);
    await page.selectOption(selector, value);
    await page.click("#tab-steps");
}

export const folderFor = (folder) => mkdirSync(folder, { recursive: true });
