// Coming in to a page with a code of its own: from the address, which is then without it, or typed.

import { byId, el, heading, say } from "./dom.js";
import { post } from "./remote.js";

/** Come in by the code in the address, if there is one; then go on, which asks for the code where it must. */
export async function comingIn(page, path, goOn) {
  const code = decodeURIComponent(location.hash.slice(1));
  if (code) {
    history.replaceState(null, "", page);
    try {
      await post(path, { code });
    } catch (error) {
      say(byId("told"), error.message);
    }
  }
  goOn();
}

/** A form that asks for the code. */
export function codeForm(place, title, label, path, goOn) {
  const code = el("input", { type: "text", id: "code", autocomplete: "off", maxLength: 40, spellcheck: false });
  async function enter(event) {
    event.preventDefault();
    try {
      await post(path, { code: code.value });
      say(byId("told"), "");
      goOn();
    } catch (error) {
      say(byId("told"), error.message);
    }
  }
  place.replaceChildren(
    heading(title),
    el(
      "form",
      { className: "leaf", noValidate: true, onsubmit: enter },
      el("label", { htmlFor: "code" }, label),
      code,
      el("button", { type: "submit", className: "choice main" }, "Come in"),
    ),
  );
  code.focus();
}
