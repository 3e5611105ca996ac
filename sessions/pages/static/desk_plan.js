// The plan builder: what the test finds and how long it takes, while one chooses. Nothing is kept before the draft.

import { fields } from "./desk_send.js";
import { byId, el, say, shown } from "./dom.js";
import { post } from "./remote.js";

const AFTER_MS = 350; // of quiet, so that not every letter is asked about
let timer = 0;
let asked = 0;

function fitted() {
  const chosen = byId("method").selectedOptions[0].dataset;
  const used = chosen.fields.split(" ");
  for (const part of document.querySelectorAll("[data-field]")) shown(part, used.includes(part.dataset.field));
  say(byId("about"), chosen.about);
  byId("question").placeholder = chosen.question;
  byId("effect").placeholder = chosen.effect;
  say(byId("effect_hint"), chosen.told);
}

function told(found) {
  if (found.refused) return [el("p", { className: "note" }, `Not yet a plan: ${found.refused}`)];
  return [
    el("p", { className: "verdict" }, found.sentences[0]),
    ...found.sentences.slice(1).map((one) => el("p", {}, one)),
    ...found.warnings.map((one) => el("p", { className: "alarm" }, one)),
    el("p", {}, found.length),
  ];
}

async function foresee() {
  const number = ++asked;
  try {
    const found = await post("/desk/plan/foresee", fields(byId("builder")));
    if (number === asked) byId("foreseen").replaceChildren(...told(found));
  } catch (error) {
    if (number === asked) byId("foreseen").replaceChildren(el("p", { className: "note" }, error.message));
  }
}

export function building() {
  const later = () => {
    fitted();
    clearTimeout(timer);
    timer = setTimeout(foresee, AFTER_MS);
  };
  byId("builder").addEventListener("input", later);
  byId("builder").addEventListener("change", later);
  fitted();
  foresee();
}
