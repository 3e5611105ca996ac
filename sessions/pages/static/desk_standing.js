// The first page's own words, taken anew now and then, so that no tab tells of what was.

import { byId } from "./dom.js";
import { ready } from "./desk_send.js";
import { text } from "./remote.js";

const PARTS = ["standing", "standing_more"];
const SELDOM_MS = 4000;
const drawn = {}; // as the host drew them last, before anything was done to them here

/** Draw again what is not as it was; whoever is about to press something of it is not disturbed. */
export async function standing() {
  setTimeout(standing, SELDOM_MS);
  if (document.hidden || PARTS.some((part) => byId(part).contains(document.activeElement))) return;
  try {
    const found = new DOMParser().parseFromString(await text("/desk"), "text/html");
    for (const part of PARTS) {
      const now = found.getElementById(part);
      if (!now || (drawn[part] && now.isEqualNode(drawn[part]))) continue;
      drawn[part] = now.cloneNode(true);
      byId(part).replaceChildren(...document.adoptNode(now).childNodes);
    }
    ready();
  } catch {
    // whoever is in the room is asked for as well, and says what is wrong
  }
}
