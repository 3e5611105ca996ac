// A word for what is heard: in one line as WORD 4 (note), or in its parts.

import { el, heading } from "./dom.js";
import { get } from "./remote.js";

const USUAL = "3"; // what the host takes, too, where a line names none

let offered = null; // of the ballot and the lexicon; anything else may be said, too

export function wordForm(state, acts) {
  const { asked } = state.at;
  const list = el("datalist", { id: "words-offered" });
  offer(list);
  const { stimulus, line } = state.word;
  const word = el("input", {
    type: "text", id: "word", maxLength: 200, autocomplete: "off", autocapitalize: "none", spellcheck: true,
    enterKeyHint: "done", "data-first": "", value: line || "", "aria-describedby": "syntax",
  });
  word.setAttribute("list", list.id);
  const note = el("input", { type: "text", id: "note", maxLength: 400, autocomplete: "off" });
  const form = el(
    "form",
    {
      noValidate: true,
      onsubmit(event) {
        event.preventDefault();
        if (!word.value.trim()) return acts.step("listen");
        acts.word(word.value.trim(), Number(form.elements.strength.value), note.value.trim());
      },
    },
    el("label", { htmlFor: "word" }, "The word"),
    word,
    list,
    el("p", { className: "aside", id: "syntax" }, "Or in one line: boomy 4 (the kick drum)"),
    strengthsOf(asked, USUAL),
    el("label", { htmlFor: "note" }, "A note, if you like"),
    note,
    el("button", { type: "submit", className: "choice main" }, "Keep the word"),
    el("button", { type: "button", className: "quiet", onclick: () => acts.step("listen") }, "Leave it"),
  );
  return {
    nodes: [heading(`A word for ${stimulus}`), form],
    update() {},
    keys: (event) => event.key === "Escape" && (acts.step("listen"), true),
  };
}

/** How strong a word is, step by step; the one of the key `chosen` is marked. */
export function strengthsOf(asked, chosen, properties = {}) {
  const ends = [asked.strengths[0], asked.strengths[asked.strengths.length - 1]].map((step) => step.said.replace(": ", ", "));
  const steps = asked.strengths.map((step) =>
    el(
      "label",
      {},
      el("input", { type: "radio", name: "strength", value: step.key, checked: step.key === chosen, "aria-label": step.said }),
      el("span", { "aria-hidden": "true" }, step.key),
    ),
  );
  return el("fieldset", { className: "strengths", ...properties }, el("legend", {}, `How strong, from ${ends[0]}, to ${ends[1]}`), ...steps);
}

async function offer(list) {
  list.replaceChildren(...(await offeredWords()).map((value) => el("option", { value })));
}

/** The words offered where somebody sits, in their order; where they cannot be had none, and any may be said. */
export async function offeredWords() {
  try {
    offered = offered || (await get("/chair/words"));
    return offered;
  } catch {
    return [];
  }
}

/** Somebody else sits down, or for something else: others are offered. */
export function forgetWords() {
  offered = null;
}
