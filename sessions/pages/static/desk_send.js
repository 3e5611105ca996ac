// What is pressed or filled in at the desk, sent as JSON: a button's body, or a form's fields by their kind.

import { byId, say, shown } from "./dom.js";
import { passedBy } from "./desk_work.js";
import { post } from "./remote.js";

/** A form's fields: `data-kind` says whole (a number or nothing), many (a list), keyed (a list of KEY=value); a lone checkbox is yes or no. */
export function fields(form) {
  const found = {};
  for (const field of form.elements) {
    if (!field.name || field.disabled) continue;
    const kind = field.dataset.kind;
    if (kind === "many") {
      found[field.name] = found[field.name] || [];
      if (field.type === "checkbox" ? field.checked : field.value.trim()) found[field.name].push(field.value.trim());
    } else if (kind === "keyed") {
      found[field.name] = found[field.name] || [];
      if (field.value.trim()) found[field.name].push(`${field.dataset.key}=${field.value.trim()}`);
    } else if (kind === "lines") {
      found[field.name] = field.value.split(/[\n,]/).map((one) => one.trim()).filter(Boolean);
    } else if (field.type === "checkbox") found[field.name] = field.checked;
    else if (field.type === "radio") {
      if (field.checked) found[field.name] = field.value;
    } else if (kind === "whole") found[field.name] = whole(field);
    else found[field.name] = field.value.trim();
  }
  return found;
}

/** A number, nothing, or what the browser cannot take for a number, of which the host says what it is told. */
function whole(field) {
  if (field.validity.badInput) return "something else";
  return field.value.trim() === "" ? null : Number(field.value);
}

async function sent(path, body, button, begun) {
  say(byId("told"), "");
  button.disabled = true;
  try {
    const found = await post(path, body);
    if (found.go) location.assign(found.go);
    else begun(found);
  } catch (error) {
    refused(error);
  } finally {
    button.disabled = false;
  }
}

/** Say why something was not done. */
function refused(error) {
  const told = byId("told");
  passedBy();
  say(told, error.message || "That did not arrive. Try again.");
  told.dataset.until = error.status === 409 ? "work" : ""; // other work is in the way: true until that has ended
  told.scrollIntoView({ block: "nearest" });
}

/** Ask what a form comes to so far; it is told in the form's own output. */
async function asked(path, form) {
  const output = form.querySelector("output");
  say(byId("told"), "");
  try {
    const found = await post(path, fields(form));
    shown(output, true);
    say(output, found.said);
  } catch (error) {
    refused(error);
  }
}

/** Have every button and form that names an address send to it; what does not lead on is given to `begun`. */
export function sending(begun) {
  document.addEventListener("click", (event) => {
    const button = event.target.closest("button[data-post]");
    if (!button) return;
    if (button.dataset.sure && !confirm(button.dataset.sure)) return;
    sent(button.dataset.post, JSON.parse(button.dataset.body || "{}"), button, begun);
  });
  document.addEventListener("click", (event) => {
    const button = event.target.closest("button[data-ask]");
    if (button) asked(button.dataset.ask, button.closest("form"));
  });
  for (const box of document.querySelectorAll("input[type=checkbox][aria-controls]")) {
    const part = byId(box.getAttribute("aria-controls"));
    const follow = () => shown(part, box.checked);
    box.addEventListener("change", follow);
    follow();
  }
  document.addEventListener("input", (event) => event.target.closest("form[data-post]") && passedBy());
  document.addEventListener("submit", (event) => {
    const form = event.target.closest("form[data-post]");
    if (!form) return;
    event.preventDefault();
    sent(form.dataset.post, fields(form), event.submitter || form.querySelector("button[type=submit]"), begun);
  });
  ready();
}

/** Let buttons be pressed; before now, a form would have been sent as the browser does by itself. */
export function ready() {
  for (const button of document.querySelectorAll("button[data-post], button[data-ask], form[data-post] button[type=submit]")) {
    button.disabled = false;
  }
}
