// Free, sighted listening: setups and passages by name, a word with one tap against the time of the track.

import { clock, el, heading, key, say, shown } from "./dom.js";
import { loops, notes } from "./hearing.js";
import { get } from "./remote.js";
import { along, pauseButton, trackBar } from "./track.js";
import { offeredWords, strengthsOf } from "./words.js";

const NAME = "earwitness name";
const FEW = 12; // words at hand; any other can be typed
const STEP_MS = 5000;
const LETTERS = "abcdefgh";

// -- what the evening is of ----------------------------------------------------------------------------------------

/** Who listens, and between which setups. */
export function freeStart(state, acts) {
  const name = el("input", { type: "text", id: "name", maxLength: 60, autocomplete: "off", value: remembered() });
  const known = el("datalist", { id: "listeners" });
  name.setAttribute("list", known.id);
  const setups = el("fieldset", { className: "picks" }, el("legend", {}, "Which setups?"));
  const form = el(
    "form",
    {
      noValidate: true,
      onsubmit(event) {
        event.preventDefault();
        const chosen = [...setups.querySelectorAll("input:checked")].map((box) => box.value);
        const listener = name.value.trim();
        if (!listener) {
          acts.tell("Type your name first: words belong to somebody.");
          return name.focus();
        }
        keep(listener);
        acts.sit("", listener, { doing: "free", about: chosen });
      },
    },
    el("label", { htmlFor: "name" }, "Your name"),
    name,
    known,
    setups,
    el("button", { type: "submit", className: "choice main" }, "Begin to listen"),
    el("button", { type: "button", className: "quiet", onclick: () => acts.step("listen") }, "Back"),
  );
  fill(name, known, setups, acts);
  return {
    nodes: [
      heading("Listen freely"),
      el("p", {}, "You see which setup plays, all are equally loud, and nothing of it counts."),
      el("p", { className: "note" }, "Start quiet and turn up slowly; rest your ears."),
      form,
    ],
    update() {},
    keys: (event) => event.key === "Escape" && (acts.step("listen"), true),
  };
}

async function fill(name, known, setups, acts) {
  try {
    const evening = await get("/chair/evening");
    known.replaceChildren(...evening.listeners.map((value) => el("option", { value })));
    if (!name.value && evening.listeners.length === 1) name.value = evening.listeners[0];
    const all = evening.setups.length <= evening.most;
    setups.append(
      ...evening.setups.map((value, at) =>
        el("label", {}, el("input", { type: "checkbox", value, checked: all || at < 2 }), el("span", {}, value)),
      ),
    );
    if (evening.setups.length < 2) acts.tell("There are no two setups to switch between yet.");
  } catch (error) {
    acts.tell(error.message || "What can be heard is not known yet; go back and try again.");
  }
}

function remembered() {
  try {
    return localStorage.getItem(NAME) || "";
  } catch {
    return "";
  }
}

function keep(listener) {
  try {
    localStorage.setItem(NAME, listener);
  } catch {
    // it is typed again next time
  }
}

// -- listening -----------------------------------------------------------------------------------------------------

/** The screen of a stretch of music. */
export function freeHearing(state, acts) {
  const { asked } = state.at;
  const parts = [notes(), setupsOf(asked, acts), musicOf(), transportOf(acts), wordsOf(state, acts), saidOf(acts), passagesOf(state, acts)];
  const [told, setups, music, transport, words, said, passages] = parts;
  return {
    nodes: [
      heading(state.at.view.passage),
      told.node,
      setups.node,
      music.node,
      transport.node,
      words.node,
      said.node,
      passages.node,
      loops(acts),
      el("button", { type: "button", className: "quiet", onclick: acts.stopHere }, "End this evening ", key("q")),
    ],
    update() {
      parts.forEach((part) => part.update(state.at.view));
    },
    keys: (event) => pressed(event, state, acts, passages),
  };
}

function pressed(event, state, acts, passages) {
  const { asked, view } = state.at;
  const letter = event.key.toLowerCase();
  const place = LETTERS.slice(0, asked.labels.length).includes(letter) ? LETTERS.indexOf(letter) : Number(letter) - 1;
  if (letter.length === 1 && asked.labels[place] !== undefined) return acts.press("hear", asked.labels[place]), true;
  const does = {
    s: () => acts.press("restart"),
    " ": () => acts.press(view.paused ? "resume" : "pause"),
    arrowleft: () => acts.press("seek", "", -STEP_MS),
    arrowright: () => acts.press("seek", "", STEP_MS),
    i: () => acts.press("loop from"),
    o: () => acts.press("loop to"),
    u: () => acts.press("no loop"),
    n: () => passages.step(1),
    p: () => passages.step(-1),
    w: acts.openWord,
    z: () => takeBackLast(view, acts),
    q: acts.stopHere,
  }[letter];
  if (!does || (event.repeat && !letter.startsWith("arrow"))) return false;
  does();
  return true;
}

function setupsOf(asked, acts) {
  const buttons = asked.labels.map((name, at) => {
    const state = el("span", { className: "state" });
    const byHand = asked.choices.find((one) => one.key === name);
    const node = el(
      "button",
      { type: "button", className: "label named", "aria-pressed": "false", onclick: () => acts.press("hear", name) },
      name,
      byHand ? el("small", {}, byHand.said) : "",
      state,
      key(LETTERS[at]),
    );
    return { name, node, state };
  });
  const node = el("div", { className: "labels names", role: "group", "aria-label": "Setups" }, ...buttons.map((one) => one.node));
  return {
    node,
    update(view) {
      for (const one of buttons) {
        const on = view.playing === one.name;
        one.node.setAttribute("aria-pressed", String(on));
        say(one.state, on ? "playing" : "");
      }
    },
  };
}

function musicOf() {
  const words = el("p", { className: "music" });
  const marks = el("span", { className: "said" });
  const bar = trackBar("track tall", marks);
  let drawn = "";
  return {
    node: el("div", {}, bar.node, words),
    update(view) {
      const at = clock(view.start_s + view.position_s);
      const stands = view.paused ? `paused at ${at}` : view.playing ? at : `silent at ${at}`;
      const within = `${clock(view.start_s)} to ${clock(view.start_s + view.length_s)}`;
      const looped = view.loop_s ? `. Loop: ${clock(view.start_s + view.loop_s[0])} to ${clock(view.start_s + view.loop_s[1])}` : "";
      say(words, `${stands} of ${within} in the track${looped}; ${view.equal}`);
      bar.update(view);
      const now = JSON.stringify(view.words.map((one) => one.track_ms));
      if (now === drawn) return;
      drawn = now;
      marks.replaceChildren(
        ...view.words.map((one) => {
          const mark = el("b");
          mark.style.left = along(view, one.track_ms / 1000 - view.start_s);
          return mark;
        }),
      );
    },
  };
}

function transportOf(acts) {
  const tool = (what, does, hint) => el("button", { type: "button", onclick: does }, what, " ", key(hint));
  const pause = pauseButton(acts, "space");
  return {
    node: el(
      "div",
      { className: "tools" },
      tool("5 s back", () => acts.press("seek", "", -STEP_MS), "←"),
      pause.node,
      tool("5 s on", () => acts.press("seek", "", STEP_MS), "→"),
      tool("From the start", () => acts.press("restart"), "s"),
    ),
    update: pause.update,
  };
}

// -- words ---------------------------------------------------------------------------------------------------------

function wordsOf(state, acts) {
  const { asked } = state.at;
  const head = el("h2", { id: "one-tap" });
  const chips = el("div", { className: "chips", role: "group", "aria-labelledby": "one-tap" });
  const held = el("p", { className: "aside", role: "status" });
  const strengths = strengthsOf(asked, String(state.strength), {
    className: "strengths small",
    onchange: (event) => (state.strength = Number(event.target.value)),
  });
  draw();

  async function draw() {
    const words = await offeredWords();
    chips.replaceChildren(
      ...words.slice(0, FEW).map((word) => el("button", { type: "button", className: "chip", onclick: () => acts.tapWord(word) }, word)),
      el("button", { type: "button", className: "chip", onclick: acts.openWord }, "Another word … ", key("w")),
    );
  }
  return {
    node: el(
      "section",
      {},
      head,
      chips,
      strengths,
      held,
    ),
    update(view) {
      say(head, view.playing ? `A word for ${view.playing}, with one tap` : "Words: play something first; a word belongs to what you hear");
      const waits = acts.wordsHeld();
      say(held, waits ? `${waits === 1 ? "One word is" : `${waits} words are`} kept here until the connection is back.` : "");
    },
  };
}

function saidOf(acts) {
  const head = el("h2", {}, "Said of this music");
  const list = el("ul", { className: "saids" });
  let drawn = "";
  return {
    node: el("section", {}, head, list),
    update(view) {
      const now = JSON.stringify(view.words);
      shown(head, view.words.length > 0);
      if (now === drawn) return;
      drawn = now;
      list.replaceChildren(...view.words.map((one) => saidRow(one, acts)));
    },
  };
}

function saidRow(one, acts) {
  const at = clock(one.track_ms / 1000);
  const again = el(
    "button",
    { type: "button", className: "said-word", onclick: () => acts.press("moment", one.setup, Math.max(0, one.track_ms - 2000)) },
    el("b", {}, one.term),
    el("small", {}, `${one.strength} · ${one.setup} · ${at} · ${one.listener}`),
  );
  again.setAttribute("aria-label", `Hear again: ${one.term} ${one.strength}, ${one.setup} at ${at}, by ${one.listener}`);
  if (!one.id) return el("li", {}, again);
  const back = el("button", { type: "button", className: "quiet", onclick: () => acts.press("take back", one.id) }, "Take back");
  back.setAttribute("aria-label", `Take back ${one.term}, ${one.setup} at ${at}`);
  return el("li", {}, again, back);
}

function takeBackLast(view, acts) {
  const last = view.words.find((one) => one.id);
  if (last) acts.press("take back", last.id);
  else acts.tell("No word of this evening is said of this music.");
}

// -- what is listened to -------------------------------------------------------------------------------------------

function passagesOf(state, acts) {
  const { music } = state.at.asked;
  const here = () => music.findIndex((one) => one.key === state.at.view.trial_id);
  const turn = (one) => acts.press("passage", one.key);
  const step = (by) => music.length > 1 && turn(music[(here() + by + music.length) % music.length]);
  const summary = el("summary", {}, `Other music (${here() + 1} of ${music.length})`);
  const rows = music.map((one) => el("button", { type: "button", className: "choice", onclick: () => turn(one), "aria-current": one.key === state.at.view.trial_id ? "true" : null }, one.said));
  const node = el(
    "section",
    { hidden: music.length < 2 },
    el(
      "div",
      { className: "tools" },
      el("button", { type: "button", onclick: () => step(-1) }, "Previous passage ", key("p")),
      el("button", { type: "button", onclick: () => step(1) }, "Next passage ", key("n")),
    ),
    el("details", {}, summary, ...rows),
  );
  return { node, step, update() {} };
}
