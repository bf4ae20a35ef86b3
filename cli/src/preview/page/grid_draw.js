// Draws many pictures on one canvas: each in its own rectangle, of its own frame, by its own table.
//
// A tile is as large as there is room for, so a pixel of it stands for several of the frame: it is drawn by the mean of their
// signals. Where it is larger than the frame, each pixel of the frame is repeated.

import { EXPOSED, TETRAHEDRAL, VERTEX, program } from "./shaders.js";

// Apart from those of the one picture and of the scopes.
const UNITS = { frame: 12, nudge: 13, table: 14 };

const FRAGMENT = `#version 300 es
precision highp float;
precision highp int;
precision highp usampler2D;
precision highp sampler2D;
precision highp sampler3D;

uniform usampler2D frame;
uniform sampler2D nudge;
uniform sampler3D table;
uniform bool nudged;
// Lower left corner of the tile on the canvas, and its size.
uniform ivec2 origin, extent;
out vec4 colour;

${TETRAHEDRAL}

${EXPOSED}

void main() {
    ivec2 size = textureSize(frame, 0);
    ivec2 at = ivec2(gl_FragCoord.xy) - origin;
    at.y = extent.y - 1 - at.y;
    ivec2 from = min((at * size) / extent, size - 1);
    ivec2 to = max(((at + 1) * size) / extent, from + 1);
    vec3 sum = vec3(0.0);
    for (int y = from.y; y < to.y; y += 1) {
        for (int x = from.x; x < to.x; x += 1) sum += vec3(texelFetch(frame, ivec2(x, y), 0).rgb);
    }
    vec3 recorded = sum / (65535.0 * float((to.x - from.x) * (to.y - from.y)));
    vec3 signal = nudged ? exposed(nudge, recorded) : recorded;
    colour = vec4(clamp(tetrahedral(table, signal), 0.0, 1.0), 1.0);
}`;

export class GridPicture {
    constructor(picture) {
        this.gl = picture.gl;
        this.program = program(this.gl, VERTEX, FRAGMENT);
        this.at = (name) => this.gl.getUniformLocation(this.program, name);
        // By what they are of.
        this.textures = new Map();
    }

    texture(unit, target, of, fill) {
        const { gl, textures } = this;
        gl.activeTexture(gl.TEXTURE0 + UNITS[unit]);
        let held = textures.get(of);
        if (!held) {
            held = { texture: gl.createTexture() };
            textures.set(of, held);
            gl.bindTexture(target, held.texture);
            for (const filter of [gl.TEXTURE_MIN_FILTER, gl.TEXTURE_MAG_FILTER]) gl.texParameteri(target, filter, gl.NEAREST);
            for (const wrap of [gl.TEXTURE_WRAP_S, gl.TEXTURE_WRAP_T]) gl.texParameteri(target, wrap, gl.CLAMP_TO_EDGE);
            fill();
        } else gl.bindTexture(target, held.texture);
        held.isUsed = true;
    }

    frame(frame) {
        const { gl } = this;
        const { width, height, signal } = frame;
        const [inside, format] = signal.length === 3 * width * height ? [gl.RGB16UI, gl.RGB_INTEGER] : [gl.RGBA16UI, gl.RGBA_INTEGER];
        this.texture("frame", gl.TEXTURE_2D, frame, () => {
            gl.pixelStorei(gl.UNPACK_ALIGNMENT, 2);
            gl.texImage2D(gl.TEXTURE_2D, 0, inside, width, height, 0, format, gl.UNSIGNED_SHORT, signal);
            gl.pixelStorei(gl.UNPACK_ALIGNMENT, 4);
        });
    }

    table(cube) {
        const { gl } = this;
        const n = cube.points;
        this.texture("table", gl.TEXTURE_3D, cube, () => gl.texImage3D(gl.TEXTURE_3D, 0, gl.RGB32F, n, n, n, 0, gl.RGB, gl.FLOAT, cube.nodes));
    }

    nudge(table) {
        const { gl } = this;
        this.texture("nudge", gl.TEXTURE_2D, table, () => gl.texImage2D(gl.TEXTURE_2D, 0, gl.R32F, table.length, 1, 0, gl.RED, gl.FLOAT, table));
    }

    // `tiles`: { rect: { left, top, width, height } in pixels of the canvas, frame, cube, nudge: a table or null }.
    draw(canvas, tiles, mat) {
        const { gl, textures } = this;
        for (const held of textures.values()) held.isUsed = false;
        gl.useProgram(this.program);
        for (const [name, unit] of Object.entries(UNITS)) gl.uniform1i(this.at(name), unit);
        gl.disable(gl.SCISSOR_TEST);
        gl.clearColor(...mat, 1);
        gl.clear(gl.COLOR_BUFFER_BIT);
        gl.enable(gl.SCISSOR_TEST);
        for (const { rect, frame, cube, nudge } of tiles) {
            const { left, width, height } = rect;
            const bottom = canvas.height - rect.top - height;
            this.frame(frame);
            this.table(cube);
            // Something of its kind must be there, even where it is not looked at.
            this.nudge(nudge ?? NOTHING);
            gl.uniform1i(this.at("nudged"), nudge ? 1 : 0);
            gl.viewport(left, bottom, width, height);
            gl.scissor(left, bottom, width, height);
            gl.uniform2i(this.at("origin"), left, bottom);
            gl.uniform2i(this.at("extent"), width, height);
            gl.drawArrays(gl.TRIANGLES, 0, 3);
        }
        for (const [of, { texture, isUsed }] of textures) {
            if (isUsed) continue;
            gl.deleteTexture(texture);
            textures.delete(of);
        }
    }
}

const NOTHING = new Float32Array(2);
