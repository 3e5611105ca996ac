// Asking the host: with an end to waiting, and a strip that says when the connection is lost and that nothing else is.

import { byId, say, shown } from "./dom.js";

const WAIT_MS = 12000; // a trial takes its fixed time to come, and whatever is asked meanwhile waits for it
const LONG_MS = 120000;
const LOST = "Not connected. Trying again. What you answered is kept here.";

let failures = 0;

export class Refusal extends Error {
  constructor(status, body) {
    super(body.message || (body.said && body.said.message) || "");
    this.status = status;
    this.body = body;
  }
}

function connected(is) {
  failures = is ? 0 : failures + 1;
  const strip = byId("connection");
  say(strip, failures > 0 ? LOST : "");
  shown(strip, failures > 0);
}

async function fetched(path, options, wait, read) {
  const stop = new AbortController();
  const timer = setTimeout(() => stop.abort(), wait);
  try {
    const response = await fetch(path, { ...options, signal: stop.signal, cache: "no-store", credentials: "same-origin" });
    const found = await read(response);
    connected(true);
    return [response, found];
  } catch (error) {
    connected(false);
    throw error;
  } finally {
    clearTimeout(timer);
  }
}

async function asked(path, options) {
  const [response, text] = await fetched(path, options, WAIT_MS, (found) => found.text());
  let body;
  try {
    body = JSON.parse(text);
  } catch {
    body = { message: text };
  }
  if (!response.ok) throw new Refusal(response.status, body);
  return body;
}

/** The bytes of a file: a trial's sounds are some megabytes each. */
export async function bytes(path) {
  const [response, found] = await fetched(path, {}, LONG_MS, (answer) => answer.arrayBuffer());
  if (!response.ok) throw new Refusal(response.status, { message: "The sounds did not come." });
  return found;
}

/** A page of the host's, as it is drawn now. */
export async function text(path) {
  const [response, found] = await fetched(path, {}, WAIT_MS, (answer) => answer.text());
  if (!response.ok) throw new Refusal(response.status, { message: "" });
  return found;
}

export const get = (path) => asked(path, {});

export const post = (path, body = {}) =>
  asked(path, { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(body) });

/** A number drawn once, by which the host knows the same answer again. */
export function nonce() {
  return Array.from(crypto.getRandomValues(new Uint8Array(12)), (byte) => byte.toString(16).padStart(2, "0")).join("");
}

window.addEventListener("offline", () => connected(false));
