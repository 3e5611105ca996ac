// The desk: who is connected and how far, and how others come in. It is never told a key or a score.

import { codeForm, comingIn } from "./come_in.js";
import { byId, el, heading, say } from "./dom.js";
import { get, post } from "./remote.js";

const OFTEN_MS = 1500;
const STANDS = {
  "": "not here", who: "chooses", line: "waits in line", away: "away", question: "reads the question", coming: "a trial comes",
  hear: "listens", disturbed: "sound is disturbed", device: "waits for the device", busy: "waits for the casebook",
  end: "has answered all", stopped: "stopped",
};
let parts = null;
let rows = "";

function page() {
  const code = el("p", { className: "code" });
  const address = el("p");
  const picture = el("img", { alt: "A code for a camera: the address with the joining code", src: "/desk/code.svg" });
  const body = el("tbody");
  const table = el(
    "table",
    { className: "people" },
    el("caption", { hidden: true }, "Listeners"),
    el("thead", {}, el("tr", {}, ...["Who", "How far", "Now", ""].map((text) => el("th", { scope: "col" }, text)))),
    body,
  );
  byId("desk").replaceChildren(
    heading("Who is in the room"),
    table,
    el("h2", {}, "To come in"),
    el("div", { className: "come" }, el("div", {}, el("p", {}, "Open this address and type the code, or point a camera at the picture."), address, code), picture),
    el("p", { className: "aside" }, "This page shows how far everybody is. It never shows what a trial plays or what was right, to anyone, before the end."),
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
    el("td", {}, `${one.answered} of ${one.trials}`),
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

function draw(desk) {
  parts = parts || page();
  say(parts.code, desk.code);
  say(parts.address, desk.address);
  const text = JSON.stringify(desk.listeners);
  if (text !== rows) {
    rows = text;
    parts.body.replaceChildren(...(desk.listeners.length ? desk.listeners.map(row) : [el("tr", {}, el("td", { colSpan: 4 }, "Nobody is awaited: no sealed plan waits to be heard."))]));
  }
}

async function poll() {
  try {
    draw(await get("/desk/now"));
  } catch (error) {
    if (error.status === 401) {
      if (parts) location.reload();
      else codeForm(byId("desk"), "The desk is for the operator", "The desk's code, as it stands in the operator's terminal", "/desk/join", poll);
      return;
    }
  }
  setTimeout(poll, OFTEN_MS);
}

comingIn("/desk", "/desk/join", poll);
