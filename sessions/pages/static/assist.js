// The assistant: what to connect now, and a button for when it is done. Not for the listener's eyes.

import { codeForm, comingIn } from "./come_in.js";
import { byId, el, heading, say } from "./dom.js";
import { get, post } from "./remote.js";

const OFTEN_MS = 400;
const STEPS = "Do the same every time, even where it stays as it is: unplug, wait, plug in, sit down, then press.";
const KEEP = "Keep this screen from the listener's eyes: it tells what plays.";
let shown = "";
let left = null;

function draw(sessions) {
  const asked = sessions.filter((one) => one.order);
  const name = asked.map((one) => `${one.plan} ${one.listener} ${one.order.number}`).join() || `nothing ${sessions.length}`;
  if (name !== shown) {
    shown = name;
    left = asked.map(() => el("p", { className: "music" }));
    byId("sheet").replaceChildren(
      ...(asked.length ? asked.flatMap(order) : waiting(sessions)),
      el("p", { className: "aside" }, STEPS),
      el("p", { className: "note" }, KEEP),
    );
    byId("sheet").querySelector("h1").focus({ preventScroll: true });
  }
  asked.forEach((one, at) => say(left[at], `within ${one.order.seconds} s`));
}

function order(one, at) {
  const { number, trial, say: what } = one.order;
  return [
    el("p", { className: "aside" }, `Swap ${number} · trial ${trial} · ${one.listener}`),
    heading(what),
    left[at],
    el("button", { type: "button", className: "choice main", onclick: () => done(one) }, "Done, I sit again"),
  ];
}

const waiting = (sessions) =>
  sessions.length
    ? [heading("Nothing to swap now"), el("p", {}, "Stay where you are; the next swap appears here.")]
    : [heading("No session runs yet"), el("p", {}, "This page goes on by itself as soon as somebody listens.")];

async function done(one) {
  try {
    draw(await post("/assist/done", { plan: one.plan, listener: one.listener, number: one.order.number }));
    say(byId("told"), "");
  } catch (error) {
    say(byId("told"), error.message);
  }
}

async function poll() {
  try {
    draw(await get("/assist/now"));
  } catch (error) {
    if (error.status === 401) {
      shown = "";
      codeForm(byId("sheet"), "The assistant has a page of their own", "The assistant's code, as it stands in the terminal", "/assist/join", poll);
      return;
    }
  }
  setTimeout(poll, OFTEN_MS);
}

comingIn("/assist", "/assist/join", poll);
