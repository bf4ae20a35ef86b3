// The programs that draw the picture, and the functions that the scopes share with them. A pixel of the canvas is a pixel of the
// frame: nothing is filtered on the way.

import { TO_XYZ, WHITE } from "./constants.js";

export const VERTEX = `#version 300 es
// One triangle over everything.
void main() {
    vec2 corner = vec2(gl_VertexID == 1 ? 3.0 : -1.0, gl_VertexID == 2 ? 3.0 : -1.0);
    gl_Position = vec4(corner, 0.0, 1.0);
}`;

// What a pane shows.
export const SHOW = { LOOK: 0, OTHER: 1, DIVIDE: 2, DIFFERENCE: 3, OVERLAY: 4, DIVIDE_OVERLAY: 5 };

// CIEDE2000 between what the screen shows, and the colour of each band. Lightness alone carries the order.
export const BANDS = [
    { label: "under 0.5", colour: "#1c1c1c" },
    { label: "0.5", colour: "#34406b" },
    { label: "1", colour: "#356f9c" },
    { label: "2", colour: "#4a9f9a" },
    { label: "4", colour: "#9dc06a" },
    { label: "8", colour: "#efd58c" },
    { label: "16", colour: "#ffffff" },
];

const channel = (hex, at) => (parseInt(hex.slice(at, at + 2), 16) / 255).toFixed(6);
const vector = ({ colour }) => `vec3(${[1, 3, 5].map((at) => channel(colour, at)).join(", ")})`;

const list = (values) => values.map((value) => value.toFixed(9)).join(", ");
// GLSL has the columns of a matrix one after the other: these are rows, and light stands before them.
const matrix = (rows) => `mat3(${rows.map(list).join(", ")})`;

// Functions by themselves, so that they can be checked by themselves.
export const DIFFERENCE = `// IEC 61966-2-1 signal to CIELAB under D65 (x 0.3127, y 0.3290).
vec3 lab(vec3 rgb) {
    vec3 v = clamp(rgb, 0.0, 1.0);
    vec3 light = mix(v / 12.92, pow((v + 0.055) / 1.055, vec3(2.4)), step(0.04045, v));
    vec3 t = (light * ${matrix(TO_XYZ)}) / vec3(${list(WHITE)});
    vec3 f = mix(t * (841.0 / 108.0) + 4.0 / 29.0, pow(max(t, 1e-9), vec3(1.0 / 3.0)), step(216.0 / 24389.0, t));
    return vec3(116.0 * f.y - 16.0, 500.0 * (f.x - f.y), 200.0 * (f.y - f.z));
}

// CIE 142-2001 (CIEDE2000), all weights 1.
float difference(vec3 one, vec3 two) {
    const float PI = 3.14159265358979;
    float mean = 0.5 * (length(one.yz) + length(two.yz));
    float mean7 = pow(mean / 25.0, 7.0);
    float g = 0.5 * (1.0 - sqrt(mean7 / (mean7 + 1.0)));
    vec2 p = vec2((1.0 + g) * one.y, one.z);
    vec2 q = vec2((1.0 + g) * two.y, two.z);
    float c1 = length(p), c2 = length(q);
    bool grey = c1 * c2 < 1e-12;
    float h1 = c1 < 1e-6 ? 0.0 : mod(atan(p.y, p.x), 2.0 * PI);
    float h2 = c2 < 1e-6 ? 0.0 : mod(atan(q.y, q.x), 2.0 * PI);
    float apart = h2 - h1;
    bool far = abs(apart) > PI;
    float dh = grey ? 0.0 : far ? apart - sign(apart) * 2.0 * PI : apart;
    float h = grey ? h1 + h2 : 0.5 * (h1 + h2) + (far ? (h1 + h2 < 2.0 * PI ? PI : -PI) : 0.0);
    float dL = two.x - one.x, dC = c2 - c1, dH = 2.0 * sqrt(c1 * c2) * sin(0.5 * dh);
    float L = 0.5 * (one.x + two.x), C = 0.5 * (c1 + c2);
    float t = 1.0 - 0.17 * cos(h - PI / 6.0) + 0.24 * cos(2.0 * h) + 0.32 * cos(3.0 * h + PI / 30.0)
        - 0.20 * cos(4.0 * h - 63.0 * PI / 180.0);
    float around = (degrees(h) - 275.0) / 25.0;
    float turn = radians(30.0) * exp(-around * around);
    float C7 = pow(C / 25.0, 7.0);
    float l = (L - 50.0) * (L - 50.0);
    float sL = 1.0 + 0.015 * l / sqrt(20.0 + l), sC = 1.0 + 0.045 * C, sH = 1.0 + 0.015 * C * t;
    float rT = -sin(2.0 * turn) * 2.0 * sqrt(C7 / (C7 + 1.0));
    float a = dL / sL, b = dC / sC, c = dH / sH;
    return sqrt(max(a * a + b * b + c * c + rT * b * c, 0.0));
}`;

// A colour by a cube.
export const TETRAHEDRAL = `vec3 tetrahedral(sampler3D cube, vec3 rgb) {
    int last = textureSize(cube, 0).x - 1;
    vec3 place = clamp(rgb, 0.0, 1.0) * float(last);
    ivec3 low = min(ivec3(place), ivec3(last - 1));
    vec3 f = place - vec3(low);
    // From the lowest corner along the largest fraction first, to the highest along the smallest last.
    bvec3 ge = bvec3(f.r >= f.g, f.g >= f.b, f.r >= f.b);
    ivec3 first = ge.x ? (ge.z ? ivec3(1, 0, 0) : ivec3(0, 0, 1)) : (ge.y ? ivec3(0, 1, 0) : ivec3(0, 0, 1));
    ivec3 third = ge.x ? (ge.y ? ivec3(0, 0, 1) : ivec3(0, 1, 0)) : (ge.z ? ivec3(0, 0, 1) : ivec3(1, 0, 0));
    float most = max(f.r, max(f.g, f.b));
    float least = min(f.r, min(f.g, f.b));
    float middle = f.r + f.g + f.b - most - least;
    return (1.0 - most) * texelFetch(cube, low, 0).rgb
        + (most - middle) * texelFetch(cube, low + first, 0).rgb
        + (middle - least) * texelFetch(cube, low + ivec3(1) - third, 0).rgb
        + least * texelFetch(cube, low + ivec3(1), 0).rgb;
}`;

// A signal as if the camera had been exposed more, by a table.
export const EXPOSED = `float exposed(sampler2D nudge, float signal) {
    int last = textureSize(nudge, 0).x - 1;
    float place = clamp(signal, 0.0, 1.0) * float(last);
    int low = min(int(place), last - 1);
    float a = texelFetch(nudge, ivec2(low, 0), 0).r;
    float b = texelFetch(nudge, ivec2(low + 1, 0), 0).r;
    return mix(a, b, place - float(low));
}

vec3 exposed(sampler2D nudge, vec3 signal) {
    return vec3(exposed(nudge, signal.r), exposed(nudge, signal.g), exposed(nudge, signal.b));
}`;

// What a pane shows, whether it is nudged, and whether the other side has a frame of its own are constants of its program: a card in
// software works through every branch of a program for every pixel, whichever holds.
export const fragment = (show, nudged, apart) => `#version 300 es
precision highp float;
precision highp int;
precision highp usampler2D;
precision highp sampler2D;
precision highp sampler3D;

uniform usampler2D frame, otherFrame;
uniform sampler2D nudge;
uniform sampler3D look, other, overlay, own;
uniform bool otherIsSignal;
// The nudge is by the curve of the camera in view.
uniform bool ownIsNudged;
const bool apart = ${apart};
const bool nudged = ${nudged};
const int show = ${show};
// Lower left corner of the pane on the canvas, its height, and which pixels of the frame it has: every one, or every second and so on.
uniform ivec2 origin;
uniform int height;
uniform int every;
// Pixels left of the divide.
uniform float divide;
out vec4 colour;

${TETRAHEDRAL}

${EXPOSED}

${DIFFERENCE}

vec3 band(float apart) {
    ${BANDS.slice(0, -1).map((b, i) => `if (apart < ${(0.5 * 2 ** i).toFixed(1)}) return ${vector(b)};`).join("\n    ")}
    return ${vector(BANDS.at(-1))};
}

// The other side, of its own frame: as large as fits into this one, a pixel for a pixel. \`at\`: a pixel of this one.
vec3 aside(ivec2 at) {
    vec2 size = vec2(textureSize(frame, 0));
    vec2 its = vec2(textureSize(otherFrame, 0));
    float times = max(its.x / size.x, its.y / size.y);
    vec2 place = (vec2(at) + 0.5 - 0.5 * size) * times + 0.5 * its;
    if (any(lessThan(place, vec2(0.0))) || any(greaterThanEqual(place, its))) return vec3(0.0);
    vec3 recorded = vec3(texelFetch(otherFrame, ivec2(place), 0).rgb) / 65535.0;
    return tetrahedral(own, nudged && ownIsNudged ? exposed(nudge, recorded) : recorded);
}

void main() {
    ivec2 pixel = ivec2(gl_FragCoord.xy) - origin;
    ivec2 at = min(ivec2(pixel.x, height - 1 - pixel.y) * every, textureSize(frame, 0) - 1);
    vec3 recorded = vec3(texelFetch(frame, at, 0).rgb) / 65535.0;
    vec3 signal = nudged ? exposed(nudge, recorded) : recorded;
    bool left = float(at.x) < divide;
    vec3 shown;
    if (show == ${SHOW.DIFFERENCE}) {
        vec3 before = otherIsSignal ? signal : tetrahedral(other, signal);
        shown = band(difference(lab(before), lab(tetrahedral(look, signal))));
    } else if (show == ${SHOW.OVERLAY} || (show == ${SHOW.DIVIDE_OVERLAY} && !left)) {
        // Of the frame as recorded: a nudge cannot say what the sensor would have held.
        shown = tetrahedral(overlay, recorded);
    } else if (show == ${SHOW.OTHER} || ((show == ${SHOW.DIVIDE} || show == ${SHOW.DIVIDE_OVERLAY}) && left)) {
        shown = apart ? aside(at) : otherIsSignal ? signal : tetrahedral(other, signal);
    } else {
        shown = tetrahedral(look, signal);
    }
    colour = vec4(clamp(shown, 0.0, 1.0), 1.0);
}`;

function compile(gl, kind, source) {
    const shader = gl.createShader(kind);
    gl.shaderSource(shader, source);
    gl.compileShader(shader);
    if (!gl.getShaderParameter(shader, gl.COMPILE_STATUS) && !gl.isContextLost()) throw new Error(gl.getShaderInfoLog(shader));
    return shader;
}

export function program(gl, vertex, fragment) {
    const made = gl.createProgram();
    gl.attachShader(made, compile(gl, gl.VERTEX_SHADER, vertex));
    gl.attachShader(made, compile(gl, gl.FRAGMENT_SHADER, fragment));
    gl.linkProgram(made);
    if (!gl.getProgramParameter(made, gl.LINK_STATUS) && !gl.isContextLost()) throw new Error(gl.getProgramInfoLog(made));
    return made;
}
