// An answer that the host does not have yet: when it is sent again, and what is said of it where its trial is not shown.

import { and } from "./dom.js";

const early = new Set(); // answers that the host took for too early, by their numbers: it was started anew

/** Note whether the host took an answer for too early: what it needs is not on record as heard. */
export function tooEarly(item, status, said) {
  const is = status === 503 && said.result === "later" && item.path === "/chair/answer";
  if (is) early.add(item.body.nonce);
  return is;
}

/** Whether an answer is sent now: one that was too early waits until its trial is heard again, or is no more. */
export function due(item, { asking, asked, view }) {
  if (!early.has(item.body.nonce)) return true;
  if (asking !== "hear") return asking === "end" || asking === "stopped";
  return view.trial_id !== item.body.trial || asked.needed.every((label) => view.heard.includes(label));
}

/** What is said of an answer that is held; nothing where none is. */
export function heldInWords(item, { asked }) {
  if (!item) return "";
  const again = early.has(item.body.nonce) && asked;
  const how = again ? `Go on, and hear ${and(asked.needed)} again; then it is sent.` : "It is sent as soon as the host takes it.";
  return `Your answer to trial ${item.body.trial.split("-")[0]} is kept on this page. ${how}`;
}
