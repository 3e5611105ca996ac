// Who is connected and how far, and how others come in. It is never told a key or a score.

import { byId, el, say, shown } from "./dom.js";
import { get, post } from "./remote.js";

const OFTEN_MS = 1500;
const STANDS = {
  "": "not here", who: "chooses", line: "waits in line", away: "away", question: "reads the question", coming: "a trial comes",
  hear: "listens", disturbed: "sound is disturbed", device: "waits for the device", busy: "waits for the casebook",
  end: "has answered all", stopped: "stopped",
};
let parts = null;
let rows = "";
let told = "";

function page() {
  const code = el("p", { className: "code" });
  const address = el("p");
  const picture = el("img", { alt: "A code for a camera: the address with the joining code", src: "/desk/code.svg" });
  const body = el("tbody");
  const table = el(
    "table",
    { className: "people" },
    el("caption", { hidden: true }, "Listeners"),
    el("thead", {}, el("tr", {}, ...["Who", "How far", "Now"].map((text) => el("th", { scope: "col" }, text)), el("td"))),
    body,
  );
  byId("room").replaceChildren(
    el("h2", {}, "Who is in the room"),
    table,
    el("h2", {}, "To come in and listen"),
    el("div", { className: "come" }, el("div", {}, el("p", {}, "Open this address and type the code, or point a camera at the picture."), address, code), picture),
  );
  return { code, address, body };
}

function row(one) {
  const state = `${STANDS[one.asking] ?? one.asking}${one.asking && one.asking !== "end" && !one.connected ? ", page not connected" : ""}`;
  const seated = one.asking && one.asking !== "end";
  const free = el("button", { type: "button", className: "quiet", onclick: () => freed(one) }, "Free", el("span", { hidden: true }));
  free.setAttribute("aria-label", `Free the chair of ${one.listener}`);
  return el(
    "tr",
    {},
    el("td", {}, one.listener, el("small", {}, ` · ${one.plan}`)),
    el("td", {}, one.progress),
    el("td", {}, one.message || state),
    el("td", {}, seated ? free : ""),
  );
}

async function freed(one) {
  try {
    draw(await post("/desk/free", { plan: one.plan, listener: one.listener }));
    say(byId("told"), `${one.listener} can sit down again; what was answered is kept.`);
  } catch (error) {
    say(byId("told"), error.message);
  }
}

function evening(one) {
  const faults = one.faults.length
    ? [el("p", { className: "alarm" }, "Sound was disturbed:"), el("ul", { className: "lines" }, ...one.faults.map((each) => el("li", {}, each)))]
    : [el("p", {}, "No fault of the sound so far.")];
  return el(
    "article",
    { className: "card" },
    el("h3", {}, one.listener, el("small", {}, ` · ${one.plan}`)),
    el("p", {}, `Begun ${one.begun}; last: ${one.turn}. Plays on ${one.device}.`),
    ...faults,
    one.dose ? el("p", {}, `${one.dose}. ${one.warning} Not medical advice.`) : "",
  );
}

function drawEvenings(evenings) {
  const text = JSON.stringify(evenings);
  if (text === told) return;
  told = text;
  shown(byId("evenings"), evenings.length > 0);
  byId("evenings").replaceChildren(el("h2", {}, "How the sessions go"), ...evenings.map(evening));
}

function draw(desk) {
  parts = parts || page();
  say(parts.code, desk.code);
  say(parts.address, desk.address);
  drawEvenings(desk.evenings);
  const text = JSON.stringify(desk.listeners);
  if (text !== rows) {
    rows = text;
    parts.body.replaceChildren(...(desk.listeners.length ? desk.listeners.map(row) : [el("tr", {}, el("td", { colSpan: 4, className: "nobody" }, "Nobody is awaited: no sealed plan waits to be heard."))]));
  }
}

export async function people() {
  try {
    draw(await get("/desk/now"));
  } catch (error) {
    if (error.status === 401 || error.status === 403) {
      location.reload();
      return;
    }
  }
  setTimeout(people, OFTEN_MS);
}
