// The picture: a frame through cubes, by WebGL 2. What it is given are textures; what it draws are panes.

import { ENTRIES } from "./signal.js";
import { SHOW, VERTEX, fragment, program } from "./shaders.js";

// How the picture is laid out now: one pane while the other side is held up alone.
export const layoutOf = ({ held, mode }) => (held ? "look" : mode);

// Between panes, in pixels of the canvas.
export const GAP = 8;
// Of a comparison: the older and the newer beside each other, under them the map of what differs. `under`: pixels for their names.
const PANES = [[0, 0], [1, 0], [0, 1]];

// The pixel of the frame at a place of the canvas, in whichever pane it is.
export const paneAt = ({ x, y }, { width, height }, under) => ({ x: x % (width + GAP), y: y % (height + under) });
// The scopes have those from 5 to 9.
const UNITS = { frame: 0, nudge: 1, look: 2, other: 3, overlay: 4, otherFrame: 10, own: 11 };

export class Picture {
    constructor(canvas) {
        this.canvas = canvas;
        // Kept after drawing, so that a pixel can be read back at any time.
        this.gl = canvas.getContext("webgl2", { alpha: false, antialias: false, depth: false, preserveDrawingBuffer: true });
        this.held = {};
        if (!this.gl) return;
        canvas.addEventListener("webglcontextlost", (event) => {
            event.preventDefault();
            this.lost?.();
        });
        canvas.addEventListener("webglcontextrestored", () => {
            this.held = {};
            this.begin();
            this.restored?.();
        });
        this.begin();
    }

    get works() {
        return this.gl !== null;
    }

    begin() {
        const { gl } = this;
        // Those of panes, each made when it is first drawn; what is made of this context goes with it.
        this.programs = {};
        this.use(SHOW.LOOK, false, false);
        // Every sampler must have something of its kind to read, even where a pane does not look at it.
        const nothing = { points: 2, nodes: new Float32Array(24) };
        for (const name of ["look", "other", "overlay", "own"]) this.cube(name, nothing);
        this.nudge(new Float32Array(ENTRIES));
    }

    // Takes up the program of a pane, and gives where its uniforms are.
    use(show, nudged, apart) {
        const { gl } = this;
        const name = `${show} ${nudged} ${apart}`;
        this.programs[name] ??= program(gl, VERTEX, fragment(show, nudged, apart));
        const made = this.programs[name];
        gl.useProgram(made);
        const at = (uniform) => gl.getUniformLocation(made, uniform);
        for (const [uniform, unit] of Object.entries(UNITS)) gl.uniform1i(at(uniform), unit);
        return at;
    }

    texture(name, target) {
        const { gl } = this;
        gl.activeTexture(gl.TEXTURE0 + UNITS[name]);
        gl.deleteTexture(this.held[name]?.texture ?? null);
        const texture = gl.createTexture();
        gl.bindTexture(target, texture);
        for (const filter of [gl.TEXTURE_MIN_FILTER, gl.TEXTURE_MAG_FILTER]) gl.texParameteri(target, filter, gl.NEAREST);
        for (const wrap of [gl.TEXTURE_WRAP_S, gl.TEXTURE_WRAP_T]) gl.texParameteri(target, wrap, gl.CLAMP_TO_EDGE);
        return texture;
    }

    // A new table for one of the cubes; the same one again costs nothing.
    cube(name, cube) {
        const { gl } = this;
        const held = this.held[name];
        if (held?.of === cube) return;
        const n = cube.points;
        if (held?.of.points === n) {
            // In place, as a drag brings many of one size.
            gl.activeTexture(gl.TEXTURE0 + UNITS[name]);
            gl.texSubImage3D(gl.TEXTURE_3D, 0, 0, 0, 0, n, n, n, gl.RGB, gl.FLOAT, cube.nodes);
            held.of = cube;
            return;
        }
        const texture = this.texture(name, gl.TEXTURE_3D);
        gl.texImage3D(gl.TEXTURE_3D, 0, gl.RGB32F, n, n, n, 0, gl.RGB, gl.FLOAT, cube.nodes);
        this.held[name] = { texture, of: cube };
    }

    // A frame: that in view, or that of the other side.
    frame(frame, name = "frame") {
        const { gl } = this;
        const held = this.held[name];
        if (held?.of === frame) return;
        const { width, height, channels, signal } = frame;
        const [inner, format] = channels === 3 ? [gl.RGB16UI, gl.RGB_INTEGER] : [gl.RGBA16UI, gl.RGBA_INTEGER];
        // Rows of three samples of two bytes end anywhere.
        gl.pixelStorei(gl.UNPACK_ALIGNMENT, 2);
        if (held && ["width", "height", "channels"].every((key) => held.of[key] === frame[key])) {
            // In place, as a live picture brings many of one size.
            gl.activeTexture(gl.TEXTURE0 + UNITS[name]);
            gl.texSubImage2D(gl.TEXTURE_2D, 0, 0, 0, width, height, format, gl.UNSIGNED_SHORT, signal);
            held.of = frame;
            return;
        }
        const texture = this.texture(name, gl.TEXTURE_2D);
        gl.texImage2D(gl.TEXTURE_2D, 0, inner, width, height, 0, format, gl.UNSIGNED_SHORT, signal);
        this.held[name] = { texture, of: frame };
    }

    // When all that was asked for has been drawn.
    finished() {
        const { gl } = this;
        const sync = gl.fenceSync(gl.SYNC_GPU_COMMANDS_COMPLETE, 0);
        gl.flush();
        return new Promise((resolve) => {
            const look = () => {
                if (gl.isContextLost() || !sync || gl.getSyncParameter(sync, gl.SYNC_STATUS) === gl.SIGNALED) {
                    gl.deleteSync(sync);
                    resolve();
                } else setTimeout(look, 1);
            };
            setTimeout(look, 1);
        });
    }

    nudge(table) {
        const { gl } = this;
        const texture = this.texture("nudge", gl.TEXTURE_2D);
        gl.texImage2D(gl.TEXTURE_2D, 0, gl.R32F, table.length, 1, 0, gl.RED, gl.FLOAT, table);
        this.held.nudge = { texture, of: table };
    }

    // Pixels across and down that the panes of `mode` take, where they have every `every`th pixel of the frame.
    static extent(frame, mode, { every = 1, under = 0 } = {}) {
        const [width, height] = [frame.width, frame.height].map((v) => Math.ceil(v / every));
        return mode === "compare" ? { width: 2 * width + GAP, height: 2 * height + Math.ceil(under / every) } : { width, height };
    }

    // The canvas takes so many pixels; what is drawn goes where they change.
    resize(frame, mode, options) {
        const { canvas } = this;
        const { width, height } = Picture.extent(frame, mode, options);
        if (canvas.width !== width || canvas.height !== height) Object.assign(canvas, { width, height });
    }

    // Draws one pane, or three; `settings`: { frame, mode, show, divide, nudged, apart, ownIsNudged, otherIsSignal, mat, every, under }.
    draw({ frame, mode, show, divide, nudged, apart, ownIsNudged, otherIsSignal, mat, every = 1, under = 0 }) {
        const { gl } = this;
        this.resize(frame, mode, { every, under });
        const { width, height } = Picture.extent(frame, "look", { every });
        const all = Picture.extent(frame, mode, { every, under }).height;
        gl.disable(gl.SCISSOR_TEST);
        gl.clearColor(...mat, 1);
        gl.clear(gl.COLOR_BUFFER_BIT);
        gl.enable(gl.SCISSOR_TEST);
        const panes = mode === "compare" ? [SHOW.OTHER, SHOW.LOOK, SHOW.DIFFERENCE] : [show];
        for (const [i, what] of panes.entries()) {
            const [column, row] = PANES[i];
            const x = column * (width + GAP);
            const y = row === 0 ? all - height : 0;
            gl.viewport(x, y, width, height);
            gl.scissor(x, y, width, height);
            const at = this.use(what, nudged, apart);
            gl.uniform1i(at("height"), height);
            gl.uniform1i(at("every"), every);
            gl.uniform1i(at("otherIsSignal"), otherIsSignal ? 1 : 0);
            gl.uniform1i(at("ownIsNudged"), ownIsNudged ? 1 : 0);
            gl.uniform1f(at("divide"), Math.round(divide * frame.width));
            gl.uniform2i(at("origin"), x, y);
            gl.drawArrays(gl.TRIANGLES, 0, 3);
        }
    }
}
