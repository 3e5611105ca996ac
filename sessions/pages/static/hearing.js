// A trial: what can be heard, where the music is, and the sheet on which it is answered.

import { and, capital, el, heading, key, say, shown } from "./dom.js";
import { labelButtons, musicOf } from "./labels.js";
import { sheetOf } from "./sheets.js";
import { pauseButton, trackBar } from "./track.js";

/** The screen of a trial; `keeping`: its answer is on its way, and may be taken back while the host asks for more. */
export function hearing(state, acts, step) {
  const { asked } = state.at;
  const sheet = sheetOf(state, acts);
  const labels = sheet.holdsLabels ? null : labelButtons(asked.labels, acts);
  const music = musicOf();
  const transport = transportOf(asked, acts, sheet);
  const said = notes();
  const done = answerButton(state, acts, sheet, step);
  const nodes = [
    heading(asked.question),
    said.node,
    ...(labels ? [labels.node] : []),
    ...sheet.nodes,
    music.node,
    transport.node,
    done.node,
    el(
      "div",
      { className: "tools" },
      el("button", { type: "button", className: "quiet", onclick: acts.openWord }, "Note a word ", key("w")),
      el("button", { type: "button", className: "quiet", onclick: () => acts.step("leave") }, "Stop here ", key("q")),
    ),
    loops(acts),
  ];
  return {
    nodes,
    update() {
      const { view } = state.at;
      if (labels) labels.update(view);
      sheet.update(view);
      music.update(view);
      transport.update(view);
      done.update(view);
      said.update(view);
    },
    keys: (event) => sheet.keys(event) || pressed(event, state, acts, done),
  };
}

function pressed(event, state, acts, done) {
  const { asked, view } = state.at;
  const letter = event.key.toLowerCase();
  const label = asked.labels.find((one) => one.toLowerCase() === letter);
  if (label) return acts.press("hear", label), true;
  const does = {
    s: () => acts.press("restart"),
    p: () => acts.press(view.paused ? "resume" : "pause"),
    " ": () => acts.press(view.paused ? "resume" : "pause"),
    k: () => acts.press("rested"),
    i: () => acts.press("loop from"),
    o: () => acts.press("loop to"),
    u: () => acts.press("no loop"),
    w: acts.openWord,
    q: () => acts.step("leave"),
    enter: done.press,
  }[letter];
  if (!does || (event.repeat && letter !== "enter")) return false;
  does();
  return true;
}

/** What there is to say, a note each; the room that they took stays theirs, so that nothing moves from under a finger. */
export function notes() {
  const node = el("div");
  let told = "";
  return {
    node,
    update(view) {
      const text = view.said.join("\n");
      if (text === told) return;
      told = text;
      node.style.minHeight = `${node.getBoundingClientRect().height}px`;
      node.replaceChildren(...view.said.map((one) => el("p", { className: "note", role: "status" }, one)));
    },
  };
}

function transportOf(asked, acts, sheet) {
  const pause = pauseButton(acts, sheet.pauses);
  const rest = el("button", { type: "button", onclick: () => acts.press("rested"), hidden: true }, "I had a rest ", key("k"));
  const restNote = el("p", { className: "note", hidden: true }, "Twenty minutes are over: a rest helps.");
  return {
    node: el(
      "div",
      {},
      el("div", { className: "tools" }, el("button", { type: "button", onclick: () => acts.press("restart") }, "From the start ", key("s")), pause.node, rest),
      restNote,
    ),
    update(view) {
      pause.update(view);
      shown(rest, view.rest_due);
      shown(restNote, view.rest_due);
    },
  };
}

function answerButton(state, acts, sheet, step) {
  const { asked } = state.at;
  const lacks = () => {
    const without = asked.needed.filter((label) => !state.at.view.heard.includes(label));
    return without.length ? `hear ${and(without)} before you answer` : sheet.lacking();
  };
  const press = () => {
    if (step === "keeping") return;
    const lacking = lacks();
    if (lacking) acts.tell(`${capital(lacking)}.`);
    else acts.step(asked.kind === "choice" ? "answer" : "sureness");
  };
  if (step === "keeping") {
    const words = el("p", { className: "note" });
    return {
      node: el("div", {}, words, el("button", { type: "button", className: "quiet", onclick: acts.takeBack }, "Take the answer back")),
      press,
      update() {
        const lacking = lacks();
        say(words, lacking ? `Your answer is kept here and sent as soon as you ${lacking.replace(" before you answer", " again")}.` : "Your answer is on its way.");
      },
    };
  }
  const lacking = el("p", { className: "aside", id: "lacking" });
  const node = el("button", { type: "button", className: "choice main", "aria-describedby": "lacking", onclick: press }, asked.kind === "choice" ? "Answer " : "Done ", key("Enter"));
  return {
    node: el("div", {}, node, lacking),
    press,
    update() {
      const text = lacks();
      node.classList.toggle("pale", Boolean(text));
      say(lacking, text ? `${capital(text)}.` : "");
    },
  };
}

export function loops(acts) {
  return el(
    "details",
    {},
    el("summary", {}, "A part over and over"),
    el(
      "div",
      { className: "tools" },
      el("button", { type: "button", className: "quiet", onclick: () => acts.press("loop from") }, "Loop from here ", key("i")),
      el("button", { type: "button", className: "quiet", onclick: () => acts.press("loop to") }, "Loop to here ", key("o")),
      el("button", { type: "button", className: "quiet", onclick: () => acts.press("no loop") }, "No loop ", key("u")),
    ),
  );
}
