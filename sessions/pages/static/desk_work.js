// Long work: its newest line, live; what came of it, or in one line why it failed. It goes on whatever page is open.

import { byId, el, say, shown } from "./dom.js";
import { get, post } from "./remote.js";

const OFTEN_MS = 1000;
const STATES = { runs: "under way", done: "done", failed: "not done", stopped: "stopped" };
let parts = null;
let timer = 0;
let saw = 0; // the work that this page saw under way
let passed = 0; // the work after which something else was typed or refused here: it ended before that
let last = null;

function strip() {
  const title = el("h2");
  const line = el("p", { role: "status" });
  const bar = el("progress", { "aria-label": "Under way" });
  const lines = el("ul", { className: "lines" });
  const tools = el("div", { className: "tools" });
  byId("work").replaceChildren(title, line, bar, lines, tools);
  return { title, line, bar, lines, tools, key: "" };
}

function lasting(seconds) {
  return seconds < 60 ? `${seconds} s` : `${Math.floor(seconds / 60)} min ${seconds % 60} s`;
}

function tools(work) {
  const quiet = (text, onclick) => el("button", { type: "button", className: "quiet", onclick }, text);
  if (work.state === "runs") return [quiet("Stop it", async () => draw(await post("/desk/work/stop")))];
  const close = quiet("Put this away", async () => draw(await post("/desk/work/away", { number: work.number })));
  return work.go ? [el("a", { className: "choice", href: work.go }, "See what came of it"), close] : [close];
}

/** Draw the work, and ask again as long as it runs. */
export function draw({ work }) {
  if (work && work.state === "runs") saw = work.number;
  else if (byId("told").dataset.until === "work") say(byId("told"), "");
  shown(byId("work"), Boolean(work));
  last = work;
  if (!work) return;
  parts = parts || strip();
  byId("work").dataset.state = work.state;
  const before = work.state !== "runs" && (work.number !== saw || work.number === passed);
  say(parts.title, `${before ? "Last time: " : ""}${work.title}: ${STATES[work.state]}${work.seconds > 1 ? `, ${lasting(work.seconds)}` : ""}`);
  say(parts.line, work.line);
  shown(parts.bar, work.state === "runs");
  const key = `${work.number} ${work.state}`;
  if (parts.key !== key) {
    parts.key = key;
    parts.lines.replaceChildren(...work.lines.map((one) => el("li", {}, one)));
    parts.tools.replaceChildren(...tools(work));
  }
  clearTimeout(timer);
  if (work.state === "runs") timer = setTimeout(watch, OFTEN_MS);
}

/** Something else is typed or was refused since: what has ended is not of that. */
export function passedBy() {
  if (!last || last.state === "runs" || last.number === passed) return;
  passed = last.number;
  draw({ work: last });
}

/** What was begun just now is in sight. */
export function begun(found) {
  draw(found);
  byId("work").scrollIntoView({ block: "nearest" });
}

export async function watch() {
  try {
    draw(await get(`/desk/work?${new URLSearchParams({ at: location.pathname, saw })}`));
  } catch (error) {
    if (error.status === 401 || error.status === 403) location.reload();
    else timer = setTimeout(watch, 3 * OFTEN_MS);
  }
}
