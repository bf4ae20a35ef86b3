// What the scopes count, on the graphics card: pixels of the picture into bins. Nothing here draws.
//
// Bins of codes are looked up in tables that are made here in double precision, so that a count is exact: the same codes and the
// same table give the same counts anywhere.

import { EXPOSED, TETRAHEDRAL, VERTEX, program } from "./shaders.js";

// The scale of stops from mid-grey: its ends, and bins in a stop.
export const STOPS = { low: -12, high: 12, bins: 12 };
export const COLUMNS = 256;
// Rows of a waveform. Those of the display hold four codes of 10 bits each.
export const ROWS = { stops: (STOPS.high - STOPS.low) * STOPS.bins, display: 256, chroma: 256 };
// u' across and v' up from 0, bins of this width.
export const CHROMA = { bins: ROWS.chroma, width: 0.0025 };
const TABLE = 256;
// Units of textures: the first five are the picture's.
const UNITS = { frame: 0, nudge: 1, cube: 5, codes: 6, rows: 7, light: 8, target: 9 };
const KINDS = { stops: 0, display: 1, chroma: 2 };
// Points that a pixel takes: one for each channel, or one for its colour.
const POINTS = { stops: 3, display: 3, chroma: 1 };

// The bin of every code of the camera's channel, from the stops of each. The lowest and the highest take what lies beyond.
export function binsOfStops(stops) {
    const last = ROWS.stops - 1;
    return Uint16Array.from(stops, (stop) => Math.min(Math.max(Math.floor((stop - STOPS.low) * STOPS.bins), 0), last));
}

const HEAD = `#version 300 es
precision highp float;
precision highp int;
precision highp usampler2D;
precision highp sampler2D;
precision highp sampler3D;
`;

// A pixel through the display's cube, as the 10-bit codes that the monitor is given.
const TO_CODES = `${HEAD}
uniform usampler2D frame;
uniform sampler2D nudge;
uniform sampler3D cube;
uniform bool nudged;
uniform int every;
out uvec4 code;
${TETRAHEDRAL}
${EXPOSED}
void main() {
    ivec2 at = ivec2(gl_FragCoord.xy) * every;
    vec3 recorded = vec3(texelFetch(frame, at, 0).rgb) / 65535.0;
    vec3 signal = nudged ? exposed(nudge, recorded) : recorded;
    code = uvec4(floor(clamp(tetrahedral(cube, signal), 0.0, 1.0) * 1023.0 + 0.5), 0.0);
}`;

// One point for each channel of each pixel, set upon its bin; what falls upon a bin is added up.
const COUNT = `${HEAD}
uniform usampler2D frame, codes, rows;
uniform sampler2D light;
uniform mat3 toXyz;
uniform int kind, every, across;
uniform ivec2 bins;
flat out int which;
float lightOf(uint code) { return texelFetch(light, ivec2(int(code), 0), 0).r; }
void main() {
    bool colour = kind == ${KINDS.chroma};
    int pixel = colour ? gl_VertexID : gl_VertexID / 3;
    which = colour ? 0 : gl_VertexID % 3;
    ivec2 at = ivec2(pixel % across, pixel / across);
    ivec2 bin = ivec2(at.x * bins.x / across, 0);
    if (kind == ${KINDS.stops}) {
        int code = int(texelFetch(frame, at * every, 0)[which]);
        bin.y = int(texelFetch(rows, ivec2(code % ${TABLE}, code / ${TABLE}), 0).r);
    } else if (kind == ${KINDS.display}) {
        bin.y = int(texelFetch(codes, at, 0)[which] >> 2);
    } else {
        uvec3 code = texelFetch(codes, at, 0).rgb;
        vec3 xyz = vec3(lightOf(code.r), lightOf(code.g), lightOf(code.b)) * toXyz;
        float sum = xyz.x + 15.0 * xyz.y + 3.0 * xyz.z;
        // No light has no chromaticity: it is not counted.
        bin = sum > 0.0 ? ivec2(floor(vec2(4.0, 9.0) * xyz.xy / sum / ${CHROMA.width})) : ivec2(-9);
    }
    gl_Position = vec4((vec2(bin) + 0.5) / vec2(bins) * 2.0 - 1.0, 0.0, 1.0);
    gl_PointSize = 1.0;
}`;

const ADD = `${HEAD}
flat in int which;
out vec4 one;
void main() { one = vec4(which == 0, which == 1, which == 2, 0.0); }`;

export class Counts {
    // In the context of the picture, whose frame and nudge it reads.
    constructor(gl) {
        this.gl = gl;
        // Sums beyond 2048 need floats of 32 bits that can be added to.
        this.able = Boolean(gl.getExtension("EXT_color_buffer_float") && gl.getExtension("EXT_float_blend"));
        this.held = {};
        if (!this.able) return;
        this.toCodes = program(gl, VERTEX, TO_CODES);
        this.count = program(gl, COUNT, ADD);
    }

    texture(name, target) {
        const { gl } = this;
        gl.activeTexture(gl.TEXTURE0 + UNITS[name]);
        const texture = gl.createTexture();
        gl.bindTexture(target, texture);
        for (const filter of [gl.TEXTURE_MIN_FILTER, gl.TEXTURE_MAG_FILTER]) gl.texParameteri(target, filter, gl.NEAREST);
        for (const wrap of [gl.TEXTURE_WRAP_S, gl.TEXTURE_WRAP_T]) gl.texParameteri(target, wrap, gl.CLAMP_TO_EDGE);
        return texture;
    }

    // A table that is read; the same one again costs nothing.
    hold(name, of, target, fill) {
        if (this.held[name]?.of === of) return;
        this.gl.deleteTexture(this.held[name]?.texture ?? null);
        this.held[name] = { texture: this.texture(name, target), of };
        fill();
    }

    // The tables of scales, and the cube to the display's own codes.
    take({ bins, light, to_xyz: toXyz }, cube) {
        const { gl } = this;
        this.hold("rows", bins, gl.TEXTURE_2D, () => gl.texImage2D(gl.TEXTURE_2D, 0, gl.R16UI, TABLE, TABLE, 0, gl.RED_INTEGER, gl.UNSIGNED_SHORT, bins));
        this.hold("light", light, gl.TEXTURE_2D, () => gl.texImage2D(gl.TEXTURE_2D, 0, gl.R32F, light.length, 1, 0, gl.RED, gl.FLOAT, light));
        const n = cube.points;
        this.hold("cube", cube, gl.TEXTURE_3D, () => gl.texImage3D(gl.TEXTURE_3D, 0, gl.RGB32F, n, n, n, 0, gl.RGB, gl.FLOAT, cube.nodes));
        // Rows of the matrix one after the other are its columns to the shader, which has light before them.
        this.toXyz = toXyz.flat();
    }

    // Somewhere to draw to, of a size.
    target(name, width, height, [inner, outer, type]) {
        const { gl } = this;
        const there = this.held[name];
        if (there?.width === width && there.height === height) return;
        if (there) gl.deleteFramebuffer(there.buffer);
        gl.deleteTexture(there?.texture ?? null);
        const texture = this.texture(name === "codes" ? name : "target", gl.TEXTURE_2D);
        gl.texImage2D(gl.TEXTURE_2D, 0, inner, width, height, 0, outer, type, null);
        const buffer = gl.createFramebuffer();
        gl.bindFramebuffer(gl.FRAMEBUFFER, buffer);
        gl.framebufferTexture2D(gl.FRAMEBUFFER, gl.COLOR_ATTACHMENT0, gl.TEXTURE_2D, texture, 0);
        this.held[name] = { texture, width, height, buffer };
    }

    onto(name) {
        const { gl } = this;
        const { buffer, width, height } = this.held[name];
        gl.bindFramebuffer(gl.FRAMEBUFFER, buffer);
        gl.viewport(0, 0, width, height);
    }

    uniforms(of, values) {
        const { gl } = this;
        gl.useProgram(of);
        for (const [name, value] of Object.entries(values)) {
            const at = gl.getUniformLocation(of, name);
            if (name === "bins") gl.uniform2i(at, ...value);
            else if (name === "toXyz") gl.uniformMatrix3fv(at, false, value);
            else gl.uniform1i(at, value);
        }
    }

    // Begins to count every `every`th pixel across and down of a frame into `kinds`.
    begin({ width, height }, kinds, { nudged, every }) {
        const { gl } = this;
        const [across, down] = [Math.ceil(width / every), Math.ceil(height / every)];
        const columns = Math.min(COLUMNS, across);
        const bins = { stops: [columns, ROWS.stops], display: [columns, ROWS.display], chroma: [CHROMA.bins, CHROMA.bins] };
        this.target("codes", across, down, [gl.RGBA16UI, gl.RGBA_INTEGER, gl.UNSIGNED_SHORT]);
        gl.disable(gl.SCISSOR_TEST);
        for (const kind of kinds) {
            this.target(kind, ...bins[kind], [gl.RGBA32F, gl.RGBA, gl.FLOAT]);
            this.onto(kind);
            gl.clearBufferfv(gl.COLOR, 0, [0, 0, 0, 0]);
        }
        gl.bindFramebuffer(gl.FRAMEBUFFER, null);
        return { kinds, every, nudged, across, down, columns, bins, done: 0 };
    }

    // Counts the next rows of it.
    rows(work, most) {
        const { gl } = this;
        const { kinds, every, nudged, across, down, bins } = work;
        const [from, to] = [work.done, Math.min(work.done + most, down)];
        if (kinds.some((kind) => kind !== "stops")) {
            this.onto("codes");
            gl.enable(gl.SCISSOR_TEST);
            gl.scissor(0, from, across, to - from);
            this.uniforms(this.toCodes, { frame: UNITS.frame, nudge: UNITS.nudge, cube: UNITS.cube, nudged: nudged ? 1 : 0, every });
            gl.drawArrays(gl.TRIANGLES, 0, 3);
            gl.disable(gl.SCISSOR_TEST);
        }
        gl.activeTexture(gl.TEXTURE0 + UNITS.codes);
        gl.bindTexture(gl.TEXTURE_2D, this.held.codes.texture);
        const known = { frame: UNITS.frame, codes: UNITS.codes, rows: UNITS.rows, light: UNITS.light, toXyz: this.toXyz, every, across };
        gl.enable(gl.BLEND);
        gl.blendFunc(gl.ONE, gl.ONE);
        for (const kind of kinds) {
            this.onto(kind);
            this.uniforms(this.count, { ...known, kind: KINDS[kind], bins: bins[kind] });
            gl.drawArrays(gl.POINTS, POINTS[kind] * across * from, POINTS[kind] * across * (to - from));
        }
        gl.disable(gl.BLEND);
        gl.bindFramebuffer(gl.FRAMEBUFFER, null);
        work.done = to;
        return to === down;
    }

    // Until the card has done all that it was given: a bin can be read then.
    wait({ kinds }) {
        const { gl } = this;
        gl.bindFramebuffer(gl.FRAMEBUFFER, this.held[kinds.at(-1)].buffer);
        gl.readPixels(0, 0, 1, 1, gl.RGBA, gl.FLOAT, new Float32Array(4));
        gl.bindFramebuffer(gl.FRAMEBUFFER, null);
    }

    // What was counted: RGBA floats for each bin, rows from the lowest bin up.
    read(kind) {
        const { gl } = this;
        const { width, height } = this.held[kind];
        const out = new Float32Array(4 * width * height);
        gl.bindFramebuffer(gl.FRAMEBUFFER, this.held[kind].buffer);
        gl.readPixels(0, 0, width, height, gl.RGBA, gl.FLOAT, out);
        gl.bindFramebuffer(gl.FRAMEBUFFER, null);
        return out;
    }
}
