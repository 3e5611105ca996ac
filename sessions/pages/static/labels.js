// What can be heard, as buttons.

import { el, say } from "./dom.js";

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
