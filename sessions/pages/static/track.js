// Where one is in the music, as a bar with its loop, and the button that holds it there.

import { el, key, say, shown } from "./dom.js";

/** How far along a view's music a second is, as a width. */
export const along = (view, second) => `${view.length_s ? Math.min(100, (100 * second) / view.length_s) : 0}%`;

/** The music as a bar, with `marks` on it: the place, and the part that is heard over and over. */
export function trackBar(className = "track", ...marks) {
  const loop = el("i", { className: "loop", hidden: true });
  const place = el("i", { className: "place" });
  return {
    node: el("div", { className, "aria-hidden": "true" }, loop, ...marks, place),
    update(view) {
      place.style.width = along(view, view.position_s);
      shown(loop, Boolean(view.loop_s));
      if (view.loop_s) {
        loop.style.left = along(view, view.loop_s[0]);
        loop.style.width = along(view, view.loop_s[1] - view.loop_s[0]);
      }
    },
  };
}

/** Pause, or go on; `hint` is the key that does the same. */
export function pauseButton(acts, hint) {
  const word = el("span", {}, "Pause");
  let paused = false;
  const node = el("button", { type: "button", onclick: () => acts.press(paused ? "resume" : "pause") }, word, " ", key(hint));
  return {
    node,
    update(view) {
      paused = view.paused;
      say(word, paused ? "Go on" : "Pause");
      node.disabled = !paused && !view.playing;
    },
  };
}
