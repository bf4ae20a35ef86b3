// The frames of a live picture that the server has coloured, on a plain canvas over the picture: for a browser that draws without a
// graphics card.

import { find } from "./dom.js";
import { BY_PROCESSOR } from "./scope_draw.js";

let context = null;

export function put({ width, height, coloured: { pixels } }) {
    const canvas = find("coloured");
    if (!context || canvas.width !== width || canvas.height !== height) {
        Object.assign(canvas, { width, height });
        context = canvas.getContext("2d", { alpha: false, ...BY_PROCESSOR });
    }
    context.putImageData(new ImageData(pixels, width, height), 0, 0);
    canvas.hidden = false;
}

export function putAway() {
    find("coloured").hidden = true;
}
