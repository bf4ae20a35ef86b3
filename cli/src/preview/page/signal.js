// A camera's log signal in stops, from the curve as the server samples it; and cubes read on this side of the screen.

import { clamp } from "./dom.js";

// Entries of a nudge's table: finer than any log curve bends.
export const ENTRIES = 2048;

// The camera's curve both ways, from `stops`: [{ stop, signal }], rising. Between samples signal runs straight over stops,
// which is within 0.0001 for every built-in log; under the lowest it runs straight over light, as logs do near black.
export class Curve {
    constructor(stops) {
        this.stop = stops.map((s) => s.stop);
        this.signal = stops.map((s) => s.signal);
        this.dark = 2 ** this.stop[0];
        this.slope = (this.signal[1] - this.signal[0]) / (2 ** this.stop[1] - this.dark);
    }

    between(from, to, value) {
        const last = from.length - 2;
        let i = 0;
        while (i < last && from[i + 1] <= value) i += 1;
        return to[i] + ((value - from[i]) / (from[i + 1] - from[i])) * (to[i + 1] - to[i]);
    }

    // Light of a signal, mid-grey being 1; negative under the curve's zero.
    light(signal) {
        if (signal < this.signal[0]) return this.dark + (signal - this.signal[0]) / this.slope;
        return 2 ** this.between(this.signal, this.stop, signal);
    }

    encode(light) {
        if (light < this.dark) return this.signal[0] + (light - this.dark) * this.slope;
        return this.between(this.stop, this.signal, Math.log2(light));
    }

    // A signal as if the camera had been exposed `stops` more.
    nudged(signal, stops) {
        return stops === 0 ? signal : clamp(this.encode(this.light(signal) * 2 ** stops), 0, 1);
    }

    table(stops) {
        return Float32Array.from({ length: ENTRIES }, (_, i) => this.nudged(i / (ENTRIES - 1), stops));
    }
}

// The signal of one pixel of a frame, 0 to 1 in each channel.
export function signalAt(frame, { x, y }) {
    const at = frame.channels * (y * frame.width + x);
    return [0, 1, 2].map((i) => frame.signal[at + i] / 65535);
}

// What a cube makes of a neutral: the diagonal, on which its interpolation is a straight line.
export function neutral(cube, signal) {
    const last = cube.points - 1;
    const place = clamp(signal, 0, 1) * last;
    const low = Math.min(Math.floor(place), last - 1);
    const part = place - low;
    const step = 3 * (1 + cube.points + cube.points * cube.points);
    return [0, 1, 2].map((i) => {
        const [a, b] = [cube.nodes[low * step + i], cube.nodes[(low + 1) * step + i]];
        return a + part * (b - a);
    });
}

export const css = (rgb) => `rgb(${rgb.map((v) => Math.round(255 * clamp(v, 0, 1))).join(" ")})`;
