// A shot under another name, a shot that goes, and an entry in the show for one that comes from a list.

import { find, say, shortened, together } from "./dom.js";
import { Lost, Refused, post } from "./server.js";
import { change, fault, lower, raise, state } from "./state.js";
import { choose, path, readShot } from "./shots.js";
import { pick, readShots } from "./work.js";

// What has the old name and stays, in words.
function remains({ cubes, stills }) {
    const parts = [cubes.length && `${together(cubes)} in ${shortened(state.shots.out)}`, ...stills].filter(Boolean);
    return parts.length ? ` Under the old name stay: ${parts.join("; ")}.` : "";
}

function refused(error) {
    if (error instanceof Refused && error.status === 409) readShot();
    if (!(error instanceof Lost)) fault("shots", error.message);
}

// Gives the chosen shot another name; whether it has it.
export async function rename(to) {
    const { name, version } = state.shot;
    try {
        const shot = await post(path(name, "/rename"), { version, to });
        fault("shots", null);
        await readShots();
        await pick({ shot: to });
        await readShot();
        change({ helped: `${name} is ${to} now.${remains(shot.remains)}` });
        say(find("status"), state.helped);
        return true;
    } catch (error) {
        refused(error);
        return false;
    }
}

// Asks first: its versions go with it.
export function askToDelete() {
    const { name, version, unsaved, file } = state.shot;
    const lost = unsaved ? ", with changes that are not saved" : "";
    raise({
        id: "shot-delete", grave: true,
        words: `Delete the shot ${name}${lost}? It goes out of the show, and its correction out of ${file}, with all its versions. Its cubes and its stills stay where they are.`,
        choices: [
            { label: `Delete ${name}`, act: () => remove(name, version) },
            { label: "Keep it", act: () => lower("shot-delete") },
        ],
    });
}

async function remove(name, version) {
    lower("shot-delete");
    try {
        const gone = await post(path(name, "/delete"), { version });
        fault("shots", null);
        if (state.pick.shot === name) await choose(null);
        await readShots();
        const stays = gone.correction_stays ? ` Its correction stays in ${gone.file}: another shot has it, or the file has no other.` : "";
        raise({ id: "shot-deleted", words: `${name} is deleted.${stays}${remains(gone.remains)}`, choices: [] });
        say(find("status"), `${name} is deleted.`);
    } catch (error) {
        refused(error);
    }
}

// Makes an entry for the chosen shot; whether it has one.
export async function makeEntry() {
    try {
        await post(path(state.shot.name, "/own"), {});
        fault("shots", null);
        await readShots();
        return true;
    } catch (error) {
        refused(error);
        return false;
    }
}
