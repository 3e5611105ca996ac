// What can be heard, as buttons; and where the music is.

import { clock, el, say } from "./dom.js";
import { trackBar } from "./track.js";

/** A label as a button: whether it plays or was heard is said in words and by shape. */
export function labelButton(label, acts) {
  const state = el("span", { className: "state" });
  const node = el("button", { type: "button", className: "label", "aria-pressed": "false", onclick: () => acts.press("hear", label) }, label, state);
  return {
    node,
    update(view) {
      const on = view.playing === label;
      const heard = view.heard.includes(label);
      node.setAttribute("aria-pressed", String(on));
      node.classList.toggle("heard", heard);
      say(state, on ? "playing" : heard ? "heard" : "not yet");
    },
  };
}

/** Those of a trial. */
export function labelButtons(labels, acts) {
  const all = labels.map((label) => labelButton(label, acts));
  const node = el("div", { className: "labels", role: "group", "aria-label": "What you can hear" }, ...all.map((one) => one.node));
  return { all, node, update: (view) => all.forEach((one) => one.update(view)) };
}

/** Which passage, where in it the music is, and which part of it is played over and over. */
export function musicOf() {
  const words = el("p", { className: "music" });
  const bar = trackBar();
  return {
    node: el("div", {}, words, bar.node),
    update(view) {
      const length = clock(view.length_s);
      const at = `${clock(view.position_s)} of ${length}`;
      const stands = view.paused ? `paused at ${at}` : view.playing ? at : view.position_s ? `silent at ${at}` : `silent; it lasts ${length}`;
      const within = view.loop_s ? `. Loop: ${clock(view.loop_s[0])} to ${clock(view.loop_s[1])}` : "";
      say(words, `Passage ${view.passage}: ${stands}${within}`);
      bar.update(view);
    },
  };
}
