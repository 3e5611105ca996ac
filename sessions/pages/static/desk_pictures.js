// Pictures that cannot be drawn: why, in words, in place of a broken one.

import { el } from "./dom.js";
import { get } from "./remote.js";

async function told(picture) {
  let why = "";
  try {
    await get(picture.currentSrc || picture.src);
  } catch (error) {
    why = error.status && error.message ? `: ${error.message}` : "";
  }
  (picture.closest("picture") || picture).replaceWith(el("p", { className: "note" }, `This figure cannot be drawn${why}.`));
}

export function pictures() {
  for (const picture of document.querySelectorAll("figure img.picture")) {
    picture.addEventListener("error", () => told(picture), { once: true });
    if (picture.complete && !picture.naturalWidth) told(picture); // it went wrong before this was here
  }
}
