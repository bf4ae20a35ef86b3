// What the scopes count, on the graphics card: pixels of the picture into bins. Nothing here draws.
//
// Bins of a waveform are looked up by code, in tables that are made here in double precision; so a count is exact, and anyone who
// has the codes and the table gets the same.

import { VERTEX } from "./shaders.js";

// Stops from mid-grey that the scale of stops has, and bins in a stop.
export const STOPS = { low: -10, high: 10, bins: 12 };
export const COLUMNS = 256;
export const ROWS = { stops: (STOPS.high - STOPS.low) * STOPS.bins, display: 256 };
// u' and v' from 0, bins of this width.
export const CHROMA = { bins: 256, width: 0.0025 };
const TABLE = 256;
const UNITS = { frame: 0, nudge: 1, cube: 5, codes: 6, stops: 7, light: 8 };

// The bin of every code of the camera's channel, from the stops of each.
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
const codesOf = (common) => `${HEAD}
uniform usampler2D frame;
uniform sampler2D nudge;
uniform sampler3D cube;
uniform bool nudged;
uniform int every;
out uvec4 code;
${common}
void main() {
    ivec2 at = ivec2(gl_FragCoord.xy) * every;
    vec3 recorded = vec3(texelFetch(frame, at, 0).rgb) / 65535.0;
    vec3 signal = nudged ? vec3(exposed(recorded.r), exposed(recorded.g), exposed(recorded.b)) : recorded;
    code = uvec4(floor(clamp(tetrahedral(cube, signal), 0.0, 1.0) * 1023.0 + 0.5), 0.0);
}`;

// One point for each channel of each pixel, set upon its bin; what falls upon a bin is added up.
const COUNT = `${HEAD}
uniform usampler2D frame, codes, stops;
uniform sampler2D light;
uniform mat3 toXyz;
uniform int kind, every, across, channel;
uniform ivec2 bins;
flat out int which;
void main() {
    int pixel = kind == 2 ? gl_VertexID : gl_VertexID / 3;
    which = kind == 2 ? 0 : gl_VertexID % 3;
    ivec2 at = ivec2(pixel % across, pixel / across);
    ivec2 bin;
    if (kind == 0) {
        int code = int(texelFetch(frame, at * every, 0)[which]);
        bin = ivec2(at.x * bins.x / across, int(texelFetch(stops, ivec2(code % ${TABLE}, code / ${TABLE}), 0).r));
    } else if (kind == 1) {
        bin = ivec2(at.x * bins.x / across, int(texelFetch(codes, at, 0)[which]) >> 2);
    } else {
        uvec3 code = texelFetch(codes, at, 0).rgb;
        vec3 rgb = vec3(texelFetch(light, ivec2(int(code.r), 0), 0).r, texelFetch(light, ivec2(int(code.g), 0), 0).r, texelFetch(light, ivec2(int(code.b), 0), 0).r);
        vec3 xyz = rgb * toXyz;
        float sum = xyz.x + 15.0 * xyz.y + 3.0 * xyz.z;
        // No light has no chromaticity: outside, so it is not counted.
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
    // In the context of the picture, from whose textures it reads. `common`: the functions of its shader.
    constructor(gl, program, common) {
        this.gl = gl;
        this.able = Boolean(gl.getExtension("EXT_color_buffer_float") && gl.getExtension("EXT_float_blend"));
        this.held = {};
        if (!this.able) return;
        this.toCodes = program(VERTEX, codesOf(common));
        this.count = program(COUNT, ADD);
    }

    texture(name, make) {
        const { gl } = this;
        gl.activeTexture(gl.TEXTURE0 + UNITS[name]);
        gl.deleteTexture(this.held[name]?.texture ?? null);
        const texture = gl.createTexture();
        const target = name === "cube" ? gl.TEXTURE_3D : gl.TEXTURE_2D;
        gl.bindTexture(target, texture);
        for (const filter of [gl.TEXTURE_MIN_FILTER, gl.TEXTURE_MAG_FILTER]) gl.texParameteri(target, filter, gl.NEAREST);
        for (const wrap of [gl.TEXTURE_WRAP_S, gl.TEXTURE_WRAP_T]) gl.texParameteri(target, wrap, gl.CLAMP_TO_EDGE);
        make();
        return texture;
    }

    hold(name, of, make) {
        if (this.held[name]?.of === of) return;
        this.held[name] = { texture: this.texture(name, make), of };
    }

    // The tables of scales, and the cube to the display's own codes.
    take({ scales, cube }) {
        const { gl } = this;
        this.hold("stops", scales.bins, () => gl.texImage2D(gl.TEXTURE_2D, 0, gl.R16UI, TABLE, TABLE, 0, gl.RED_INTEGER, gl.UNSIGNED_SHORT, scales.bins));
        this.hold("light", scales.light, () => gl.texImage2D(gl.TEXTURE_2D, 0, gl.R32F, scales.light.length, 1, 0, gl.RED, gl.FLOAT, scales.light));
        const n = cube.points;
        this.hold("cube", cube, () => gl.texImage3D(gl.TEXTURE_3D, 0, gl.RGB32F, n, n, n, 0, gl.RGB, gl.FLOAT, cube.nodes));
        this.toXyz = scales.to_xyz.flat();
    }

    target(name, width, height, inner, outer, type) {
        const { gl } = this;
        const size = `${width} ${height}`;
        if (this.held[name]?.of !== size) {
            const texture = this.texture(name === "codes" ? name : "light", () => gl.texImage2D(gl.TEXTURE_2D, 0, inner, width, height, 0, outer, type, null));
            if (name !== "codes") this.held.light = undefined;
            const buffer = gl.createFramebuffer();
            gl.bindFramebuffer(gl.FRAMEBUFFER, buffer);
            gl.framebufferTexture2D(gl.FRAMEBUFFER, gl.COLOR_ATTACHMENT0, gl.TEXTURE_2D, texture, 0);
            this.held[name] = { texture, of: size, buffer };
        }
        gl.bindFramebuffer(gl.FRAMEBUFFER, this.held[name].buffer);
        gl.viewport(0, 0, width, height);
    }

    uniforms(program, values) {
        const { gl } = this;
        gl.useProgram(program);
        for (const [name, value] of Object.entries(values)) {
            const at = gl.getUniformLocation(program, name);
            if (name === "bins") gl.uniform2i(at, ...value);
            else if (name === "toXyz") gl.uniformMatrix3fv(at, false, value);
            else gl.uniform1i(at, value);
        }
    }

    // Counts of a frame: each a Float32Array of RGBA, rows from the lowest bin up. Of every `every`th pixel across and down.
    of(frame, nudged, every) {
        const { gl } = this;
        const [across, down] = [Math.ceil(frame.width / every), Math.ceil(frame.height / every)];
        gl.disable(gl.SCISSOR_TEST);
        this.target("codes", across, down, gl.RGBA16UI, gl.RGBA_INTEGER, gl.UNSIGNED_SHORT);
        this.uniforms(this.toCodes, { frame: UNITS.frame, nudge: UNITS.nudge, cube: UNITS.cube, nudged: nudged ? 1 : 0, every });
        gl.drawArrays(gl.TRIANGLES, 0, 3);
        gl.activeTexture(gl.TEXTURE0 + UNITS.codes);
        gl.bindTexture(gl.TEXTURE_2D, this.held.codes.texture);
        const known = { frame: UNITS.frame, codes: UNITS.codes, stops: UNITS.stops, light: UNITS.light, toXyz: this.toXyz, every, across };
        const counted = (kind, name, bins) => {
            this.target(name, ...bins, gl.RGBA32F, gl.RGBA, gl.FLOAT);
            gl.clearBufferfv(gl.COLOR, 0, [0, 0, 0, 0]);
            this.uniforms(this.count, { ...known, kind, bins });
            gl.enable(gl.BLEND);
            gl.blendFunc(gl.ONE, gl.ONE);
            gl.drawArrays(gl.POINTS, 0, across * down * (kind === 2 ? 1 : 3));
            gl.disable(gl.BLEND);
            const out = new Float32Array(4 * bins[0] * bins[1]);
            gl.readPixels(0, 0, ...bins, gl.RGBA, gl.FLOAT, out);
            return out;
        };
        const found = {
            stops: counted(0, "waveform", [COLUMNS, ROWS.stops]),
            display: counted(1, "monitor", [COLUMNS, ROWS.display]),
            chroma: counted(2, "chroma", [CHROMA.bins, CHROMA.bins]),
            every, across, down,
        };
        gl.bindFramebuffer(gl.FRAMEBUFFER, null);
        return found;
    }

    // The codes that were counted last: RGBA, from the first row down.
    codes() {
        const { gl } = this;
        const [width, height] = this.held.codes.of.split(" ").map(Number);
        const out = new Uint32Array(4 * width * height);
        gl.bindFramebuffer(gl.FRAMEBUFFER, this.held.codes.buffer);
        gl.readPixels(0, 0, width, height, gl.RGBA_INTEGER, gl.UNSIGNED_INT, out);
        gl.bindFramebuffer(gl.FRAMEBUFFER, null);
        return out;
    }
}
