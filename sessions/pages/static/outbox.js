// What was answered and is not known to be kept: it outlives a lost connection, a reload and a host started anew.

import { Refusal, post } from "./remote.js";

const NAME = "earwitness outbox";
let sending = null;

function read() {
  try {
    return JSON.parse(localStorage.getItem(NAME)) || [];
  } catch {
    return [];
  }
}

function write(items) {
  try {
    localStorage.setItem(NAME, JSON.stringify(items));
  } catch {
    memory = items; // private windows of some browsers keep nothing
  }
}

let memory = [];
const items = () => (memory.length ? memory : read());

/** What waits of somebody: a listener of a plan, since a phone goes from hand to hand. */
export const waiting = (path, of) => items().find((item) => item.path === path && item.of === of);

export const count = (path, of) => items().filter((item) => item.path === path && item.of === of).length;

export const any = (of) => items().some((item) => item.of === of);

export function add(path, of, body) {
  write([...items(), { path, of, body }]);
}

export function drop(item) {
  const left = items().filter((one) => one.body.nonce !== item.body.nonce);
  memory = memory.length ? left : memory;
  write(left);
}

/**
 * Send all that waits of somebody, in order, until something must wait longer. `told` is given what came of each:
 * (item, status, body), with the status 0 where the host could not be reached.
 */
export async function send(of, told) {
  if (sending) return sending;
  sending = (async () => {
    for (const item of items().filter((one) => one.of === of)) {
      let status = 200;
      let body;
      try {
        body = await post(item.path, item.body);
      } catch (error) {
        status = error instanceof Refusal ? error.status : 0;
        body = error.body || {};
      }
      const waits = status === 0 || status === 503 || status === 401 || (status === 422 && !body.said);
      if (!waits) drop(item);
      told(item, status, body);
      if (waits) return;
    }
  })();
  try {
    await sending;
  } finally {
    sending = null;
  }
}
