// Elements, made without any HTML text: whatever was typed by somebody stays text.

export function el(tag, properties = {}, ...children) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(properties)) {
    if (value === undefined || value === null || value === false) continue;
    if (name.startsWith("on")) made.addEventListener(name.slice(2), value);
    else if (name in made && !name.includes("-")) made[name] = value;
    else made.setAttribute(name, value === true ? "" : value);
  }
  made.append(...children.filter((child) => child !== null && child !== undefined && child !== ""));
  return made;
}

export const byId = (id) => document.getElementById(id);

/** A heading that takes the focus where a page becomes another one, so that it is read out. */
export const heading = (text) => el("h1", { tabIndex: -1 }, text);

export const key = (text) => el("kbd", { "aria-hidden": "true" }, text);

/** Set a text only where it changed: a live region speaks once. */
export function say(node, text) {
  if (node.textContent !== text) node.textContent = text;
}

export function shown(node, is) {
  if (node.hidden === is) node.hidden = !is;
}

export const clock = (seconds) => {
  const tenths = Math.round(seconds * 10);
  const rest = (tenths % 600) / 10;
  return `${Math.floor(tenths / 600)}:${rest < 10 ? "0" : ""}${rest.toFixed(1)}`;
};

export const capital = (text) => text.charAt(0).toUpperCase() + text.slice(1);

export const and = (labels) =>
  labels.length < 2 ? labels.join("") : `${labels.slice(0, -1).join(", ")} and ${labels[labels.length - 1]}`;
