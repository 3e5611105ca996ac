// One thing at a time: who you are, the question, what is waited for, your answer, how sure, whether to stop, the end.

import { and, capital, el, heading, key } from "./dom.js";
import { ADVICE, allowed } from "./wake.js";

const METHODS = { abx: "ABX", preference: "preference", words: "words" };

function button(label, onclick, properties = {}, ...more) {
  return el("button", { type: "button", className: "choice", onclick, ...properties }, label, ...more);
}

/** What is shown outside a trial. */
export function screen(asking, state, acts) {
  const make = { who, line, away, question, coming, disturbed, device, busy, end, stopped, left }[asking] || coming;
  return make(state, acts);
}

function who(state, acts) {
  const list = el("div");
  let last = "";
  return {
    nodes: [heading("Who are you?"), list, besides(state, acts)],
    update() {
      const told = JSON.stringify(state.offered);
      if (told === last) return;
      last = told;
      const focused = document.activeElement && list.contains(document.activeElement) && document.activeElement.dataset.who;
      list.replaceChildren(...plans(state.offered, acts));
      if (focused) list.querySelector(`[data-who="${CSS.escape(focused)}"]`)?.focus();
    },
  };
}

const BESIDES = {
  practice: ["Practise a test", "the same questions in an order of its own"],
  training: ["Train your ears", "small changes of the same music, and you are told whether you were right"],
  free: ["Listen freely", "setups by name, equally loud, words with one tap"],
};

/** What never counts, and may be done before or instead. */
function besides(state, acts) {
  const offers = Object.keys(BESIDES).filter((one) => state.at.offers.includes(one));
  if (!offers.length) return "";
  const rows = offers.map((one) => button(BESIDES[one][0], () => acts.step(one), {}, el("small", {}, BESIDES[one][1])));
  return el("section", {}, el("h2", {}, "Or what never counts"), ...rows);
}

/** Who practises, and which test. */
export function practising(state, acts) {
  const rows = state.offered.map(({ waits }) =>
    button(waits.listener, () => acts.sit(waits.plan, waits.listener, { doing: "practice" }), {}, el("small", {}, `${waits.plan} · ${waits.trials} trials, never counted`)),
  );
  return {
    nodes: [
      heading("Practise: who are you?"),
      el("p", {}, "Practice asks the same as the test, of the same music, in an order of its own. It never counts; that you practised is noted."),
      ...rows,
      el("p", { className: "aside" }, "Only a test that is sealed and waits can be practised; before that, train on its music or listen freely."),
      button("Back", () => acts.step("listen"), { className: "quiet" }),
    ],
    update() {},
    keys: (event) => event.key === "Escape" && (acts.step("listen"), true),
  };
}

function plans(offered, acts) {
  if (!offered.length) return [el("p", {}, "Nobody is awaited at the moment. The operator seals a plan; then this page goes on by itself.")];
  const several = new Set(offered.map((one) => one.waits.plan)).size > 1;
  let plan = null;
  return offered.flatMap(({ waits, taken, connected }) => {
    const begins = several && waits.plan !== plan;
    plan = waits.plan;
    const method = METHODS[waits.method] || waits.method;
    const lost = taken && !connected;
    const begun = waits.answered ? `${waits.answered} of ${waits.trials} trials answered` : `${waits.trials} trials`;
    const stands = lost ? "sat at a page that is not connected any more" : taken ? "sits at a page already" : begun;
    const who = button(
      waits.listener,
      () => (lost ? acts.instead(waits.plan, waits.listener) : acts.sit(waits.plan, waits.listener)),
      { disabled: taken && !lost, "data-who": `${waits.plan} ${waits.listener}` },
      el("small", {}, `${several ? "" : `${method} · `}${stands}`),
    );
    if (several) who.setAttribute("aria-label", `${waits.listener}, ${waits.plan}, ${stands}`);
    return begins ? [el("h2", {}, `${waits.plan} · ${method}`), who] : [who];
  });
}

/** Whether somebody is who sat at a page that is lost. */
export function instead(state, acts) {
  const { plan, listener } = state.wanted;
  return {
    nodes: [
      heading(`Are you ${listener}?`),
      el("p", {}, "The page where you sat before ends, and this one goes on at the same trial."),
      button(`Yes, I am ${listener}`, () => acts.sit(plan, listener, { instead: true }), { className: "choice main" }),
      button("No", () => acts.step("listen"), { className: "choice" }),
    ],
    update() {},
    keys: (event) => event.key === "Escape" && (acts.step("listen"), true),
  };
}

function line(state, acts) {
  const place = el("p");
  return {
    nodes: [
      heading("Somebody else is listening"),
      place,
      el("p", { className: "aside" }, "Keep this page open; it goes on by itself."),
      button("Leave the line", acts.leave, { className: "quiet" }),
    ],
    update() {
      const before = state.at.before;
      place.textContent = before ? `${before} before you in line.` : "You are next.";
    },
  };
}

function away(state, acts) {
  const { plan, listener, message, doing, about } = state.at;
  const nodes = [heading(message ? "The chair could not be opened" : "One moment: sitting down again")];
  if (message) {
    nodes.push(el("p", { className: "note" }, message), button("Try again", () => acts.sit(plan, listener, { doing, about }), { className: "choice main" }));
    nodes.push(button("Leave", acts.stopHere, { className: "quiet" }));
  }
  return { nodes, update() {} };
}

function question(state, acts) {
  const { asked, view } = state.at;
  const begun = view.answered > 0;
  const nodes = [
    heading(asked.question),
    el("p", {}, how(asked)),
    asked.begins_anew ? el("p", { className: "note" }, "This is practice: it never counts.") : "",
    ...view.said.map((text) => el("p", { className: "note" }, text)),
    button(begun ? `Go on with trial ${view.answered + 1} of ${asked.trials}` : "Begin", () => acts.press("begin"), { className: "choice main" }),
  ];
  if (!allowed()) nodes.push(el("p", { className: "aside" }, ADVICE));
  nodes.push(button("Leave", acts.stopHere, { className: "quiet" }));
  return { nodes: nodes.filter(Boolean), update() {}, keys: (event) => event.key === "Enter" && (acts.press("begin"), true) };
}

function how(asked) {
  const labels = and(asked.labels);
  const listen = `In each of ${asked.trials} trials you hear ${labels}, as often as you like and in any order.`;
  if (asked.kind === "grades") {
    const names = asked.scale.names;
    return `${listen} You grade ${and(asked.graded)} from ${asked.scale.low} (${names[0].said}) to ${asked.scale.high} (${names[names.length - 1].said}).`;
  }
  if (asked.kind === "ticks") return `${listen} You tick the words that apply to each; none is an answer, too.`;
  if (asked.kind === "ratings") return `${listen} You rate each word for each of them, ${asked.rating[0]} (not at all) to ${asked.rating[1]} (very much).`;
  return `${listen} Then you answer, and say how sure you are. There is no hurry.`;
}

/** The page plays by itself, and has not been touched since it was opened. */
export function silent(state, acts) {
  return {
    nodes: [
      heading("Sound comes from here"),
      el("p", {}, "This page plays the music itself. Put your headphones on or turn to your loudspeakers; set the volume low, and turn up slowly."),
      el("p", { className: "aside" }, "Switch off whatever changes sound on this device: equalisers, spatial or surround sound, volume normalising. On a phone, look at its mute switch."),
      button("Start the sound", acts.startSound, { className: "choice main" }),
      button("Leave", acts.leave, { className: "quiet" }),
    ],
    update() {},
    keys: (event) => event.key === "Enter" && (acts.startSound(), true),
  };
}

/** The sounds of a trial are on their way to the page, or it cannot play them. */
export function fetching(state, acts, own) {
  if (!own.refused) return { nodes: [heading("One moment: the sounds are on their way.")], update() {} };
  return {
    nodes: [
      heading("This browser cannot play the trial"),
      el("p", { className: "note" }, own.why),
      button("Try again", () => own.again(), { className: "choice main" }),
      button("Stop here", acts.stopHere, { className: "quiet" }),
    ],
    update() {},
  };
}

const waits = (title, text) => () => ({ nodes: [heading(title), text ? el("p", {}, text) : ""].filter(Boolean), update() {} });
const coming = (state, acts) =>
  waits(`One moment: ${state.at.doing === "free" ? "the music is made ready" : "a trial is on its way"}.`)(state, acts);
const stopped = waits("Stopped. What you answered is kept.");

function said(state) {
  const box = el("div");
  return {
    box,
    update() {
      const text = state.at.view.said.join(" ");
      if (box.textContent !== text) box.replaceChildren(el("p", { className: "note" }, text));
    },
  };
}

function disturbed(state, acts) {
  const told = said(state);
  return {
    nodes: [
      heading("The sound keeps being disturbed: no trial comes by itself."),
      told.box,
      button("Try again", () => acts.press("try again"), { className: "choice main" }),
      button("Stop here", acts.stopHere, { className: "quiet" }),
    ],
    update: told.update,
  };
}

function device(state, acts) {
  const told = said(state);
  const nodes = [heading("No sound: waiting for the device."), told.box, el("p", {}, "Nothing is lost; it goes on by itself.")];
  return { nodes: [...nodes, button("Stop here", acts.stopHere, { className: "quiet" })], update: told.update };
}

function busy(state) {
  const told = said(state);
  return { nodes: [heading("One moment: the casebook is in use."), told.box], update: told.update };
}

function end(state, acts) {
  const { asked } = state.at;
  const uncounted = asked && asked.begins_anew;
  const told = uncounted
    ? "This was practice; it never counts. The test itself waits under your name."
    : "All your answers are kept. Nobody is told a result before everybody has answered.";
  return {
    nodes: [
      heading("That was the last one. Thank you."),
      el("p", {}, told),
      button(uncounted ? "Back to the beginning" : "Done", acts.stopHere, { className: "choice main" }),
    ],
    update() {},
  };
}

function left() {
  return {
    nodes: [
      heading("You left the chair."),
      el("p", {}, "What you answered is kept. To go on, or for somebody else, come in again."),
      button("Come in again", () => location.replace("/"), { className: "choice" }),
    ],
    update() {},
  };
}

/** The answers of a method that asks for one of them. */
export function answers(state, acts) {
  const { asked } = state.at;
  const choose = asked.choices.map((choice, place) =>
    button(capital(choice.said), () => acts.choose(choice.key), {}, key(`${choice.key.toLowerCase()} or ${place + 1}`)),
  );
  return {
    nodes: [heading(asked.question), ...choose, button("Listen on", () => acts.step("listen"), { className: "quiet" })],
    update() {},
    keys(event) {
      if (event.key === "Escape" || event.key === "Backspace") return acts.step("listen"), true;
      const found = chosen(asked.choices, event.key);
      if (found) acts.choose(found.key);
      return Boolean(found);
    },
  };
}

/** A choice by its own letter; by its place, where no choice has that digit as its own. */
function chosen(choices, pressed) {
  return choices.find((one) => one.key.toLowerCase() === pressed.toLowerCase()) || choices[Number(pressed) - 1];
}

const SAID = { grades: "Your grades are complete", ticks: "Your ticks are complete", ratings: "Your ratings are complete" };

export function sureness(state, acts) {
  const { asked } = state.at;
  const found = asked.choices.find((choice) => choice.key === state.draft.choice);
  const untouched = asked.kind === "ticks" && !Object.values(state.draft.marks).some((words) => words.length);
  const steps = asked.sureness.map((step) =>
    el("button", { type: "button", className: "choice", onclick: () => acts.answer(Number(step.key)) }, el("b", {}, step.key), step.said),
  );
  return {
    nodes: [
      heading(`${found ? capital(found.said) : untouched ? "No word is ticked" : SAID[asked.kind]}. How sure are you?`),
      el("div", { className: "sureness" }, ...steps),
      button("Take it back", () => acts.step("listen"), { className: "quiet" }),
    ],
    update() {},
    keys(event) {
      if (event.key === "Escape" || event.key === "Backspace") return acts.step("listen"), true;
      if (event.repeat || !asked.sureness.some((step) => step.key === event.key)) return false;
      return acts.answer(Number(event.key)), true;
    },
  };
}

export function leaving(state, acts) {
  const later = state.at.asked.begins_anew ? "This rehearsal would begin anew." : "The session can be taken up again.";
  return {
    nodes: [
      heading("Stop here?"),
      el("p", {}, later),
      button("Stop", acts.stopHere, { className: "choice main" }, key("Enter")),
      button("Listen on", () => acts.step("listen"), { className: "choice" }, key("Esc")),
    ],
    update() {},
    keys(event) {
      if (event.key === "Escape") return acts.step("listen"), true;
      if (event.repeat) return false; // the key that led here may still be down
      return (event.key === "Enter" || event.key.toLowerCase() === "y") && (acts.stopHere(), true);
    },
  };
}
