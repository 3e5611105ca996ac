// Training: which of three is changed, then whether that was right; the change grows smaller while it is found.

import { and, capital, clock, el, heading, key, say, shown } from "./dom.js";
import { labelButtons } from "./labels.js";
import { get } from "./remote.js";
import { pauseButton, trackBar } from "./track.js";

// -- what is trained -----------------------------------------------------------------------------------------------

export function trainingStart(state, acts) {
  const plan = el("select", { id: "plan", onchange: () => people() });
  const listener = el("select", { id: "listener" });
  const artefact = el("select", { id: "artefact" });
  const passage = el("select", { id: "passage" });
  let plans = [];

  const options = (node, values) => node.replaceChildren(...values.map(([value, said]) => el("option", { value }, said)));
  const same = (names) => names.map((name) => [name, name]);
  function people() {
    const found = plans.find((one) => one.plan === plan.value);
    options(listener, same(found ? found.listeners : []));
    options(passage, same(found ? found.passages : []));
  }
  const fields = [
    ["plan", "Before which test?", plan],
    ["listener", "Who are you?", listener],
    ["artefact", "What do you want to learn to hear?", artefact],
    ["passage", "In which passage?", passage],
  ].map(([id, said, node]) => el("div", {}, el("label", { htmlFor: id }, said), node));
  const form = el(
    "form",
    {
      noValidate: true,
      onsubmit(event) {
        event.preventDefault();
        if (!listener.value) return acts.tell("Nobody can train here yet: the operator drafts a plan first.");
        return acts.sit(plan.value, listener.value, { doing: "training", about: [artefact.value, passage.value] });
      },
    },
    ...fields,
    el("button", { type: "submit", className: "choice main" }, "Make it ready"),
    el("button", { type: "button", className: "quiet", onclick: () => acts.step("listen") }, "Back"),
  );
  (async () => {
    try {
      const found = await get("/chair/exercises");
      plans = found.plans;
      options(plan, same(plans.map((one) => one.plan)));
      shown(fields[0], plans.length !== 1);
      options(artefact, found.artefacts.map((one) => [one.key, capital(one.said)]));
      people();
      if (!plans.length) acts.tell("Nobody can train here yet: the operator drafts a plan first.");
    } catch (error) {
      acts.tell(error.message || "What can be trained is not known yet; go back and try again.");
    }
  })();
  return {
    nodes: [
      heading("Train your ears"),
      el("p", {}, "The music of the test, with one thing changed on purpose. You are told after each answer whether it was right. It never counts; that you trained is noted."),
      form,
    ],
    update() {},
    keys: (event) => event.key === "Escape" && (acts.step("listen"), true),
  };
}

/** Before the first trial. */
export function trainingQuestion(state, acts) {
  const { asked, view } = state.at;
  const [what] = asked.music;
  return {
    nodes: [
      heading(`You learn to hear: ${what.said}`),
      el("p", {}, "Each time you hear A, B and C, as often as you like. Two are alike, one is changed: say which one. Then you are told, and may hear them again by name."),
      el("p", {}, "Until your first wrong answer each right one makes the change smaller; from then on it takes two right ones in a row. A wrong one makes it larger. It ends by itself after some five minutes; stop whenever you like."),
      el("p", { className: "note" }, "Start quiet and turn up slowly, then leave the volume as it is, also where you hear no change: a band may get up to 12 dB more, and much bass moves woofers far. Rest your ears when they tire."),
      ...view.said.slice(1).map((text) => el("p", { className: "note" }, text)),
      el("button", { type: "button", className: "choice main", onclick: () => acts.press("begin") }, "Begin"),
      el("button", { type: "button", className: "quiet", onclick: acts.stopHere }, "Leave"),
    ],
    update() {},
    keys: (event) => event.key === "Enter" && (acts.press("begin"), true),
  };
}

// -- a trial -------------------------------------------------------------------------------------------------------

export function trainingHearing(state, acts) {
  const { asked } = state.at;
  const labels = labelButtons(asked.labels, acts);
  const size = el("p", { className: "size" });
  const music = musicOf();
  const pause = pauseButton(acts, "space");
  const named = asked.choices.map((choice) =>
    el("button", { type: "button", className: "choice", onclick: () => name(choice.key) }, capital(choice.said), key(`shift ${choice.key.toLowerCase()}`)),
  );
  const answers = el("section", { className: "names-one", "aria-label": "Your answer" }, ...named);
  const lacking = el("p", { className: "aside" });
  const told = el("p", { className: "note told-answer", role: "status" });
  const next = el("button", { type: "button", className: "choice main", onclick: () => acts.press("next") }, "Next ", key("Enter"));
  const after = el("section", { hidden: true }, told, el("p", { className: "aside" }, "Hear them again, now that you know. Then go on."), next);
  const how = el("p", { className: "aside" });

  const toggle = () => acts.press(state.at.view.paused ? "resume" : "pause");
  // what plays now is heard: where the page itself plays the host is told so in a moment, and the answer waits for it
  const unheard = () => asked.labels.filter((label) => !state.at.view.heard.includes(label) && label !== state.at.view.playing);
  function name(label) {
    const { view } = state.at;
    if (view.told || acts.answerHeld()) return;
    if (unheard().length) acts.tell(`Hear ${and(unheard())} before you answer.`);
    else acts.name(label);
  }
  return {
    nodes: [
      heading(asked.question),
      size,
      labels.node,
      music.node,
      el("div", { className: "tools" }, el("button", { type: "button", onclick: () => acts.press("restart") }, "From the start ", key("s")), pause.node),
      answers,
      lacking,
      after,
      how,
      el("button", { type: "button", className: "quiet", onclick: acts.stopHere }, "End the training ", key("q")),
    ],
    update() {
      const { view } = state.at;
      const answered = Boolean(view.told);
      labels.update(view);
      for (const [at, one] of labels.all.entries()) {
        const label = asked.labels[at];
        const is = !answered ? "" : label === view.changed ? ", changed" : ", as it is";
        one.node.setAttribute("aria-label", `${label}${is}${view.playing === label ? ", playing" : ""}`);
        if (answered) say(one.node.querySelector(".state"), label === view.changed ? "changed" : "as it is");
        one.node.classList.toggle("changed", answered && label === view.changed);
      }
      say(size, `${capital(asked.music[0].said)}: ${view.size}`);
      music.update(view);
      pause.update(view);
      shown(answers, !answered);
      const held = acts.answerHeld();
      named.forEach((button) => (button.disabled = held));
      const without = answered || held ? [] : unheard();
      say(lacking, held ? "Your answer is on its way." : without.length ? `Hear ${and(without)} before you answer.` : "");
      if (answered && after.hidden) {
        shown(after, true);
        next.focus({ preventScroll: true });
      } else if (!answered) shown(after, false);
      say(told, view.told);
      how.classList.toggle("empty", !view.answered);
      say(how, view.answered ? `${view.right} of ${view.answered} right so far${view.smallest ? `; the smallest you named: ${view.smallest}` : ""}.` : "");
    },
    keys(event) {
      const letter = event.key.toLowerCase();
      const label = asked.labels.find((one) => one.toLowerCase() === letter) || (/^[1-9]$/.test(letter) ? asked.labels[Number(letter) - 1] : "");
      if (label) {
        if (event.shiftKey) name(label);
        else acts.press("hear", label);
        return true;
      }
      const does = { " ": toggle, s: () => acts.press("restart"), q: acts.stopHere, enter: () => state.at.view.told && acts.press("next") }[letter];
      if (!does || event.repeat) return false;
      does();
      return true;
    },
  };
}

function musicOf() {
  const words = el("p", { className: "music" });
  const bar = trackBar();
  return {
    node: el("div", {}, words, bar.node),
    update(view) {
      const at = clock(view.position_s);
      say(words, `Passage ${view.passage}: ${view.paused ? "paused at " : view.playing ? "" : "silent at "}${at} of ${clock(view.length_s)}`);
      bar.update(view);
    },
  };
}

/** What it came to. */
export function trainingEnd(state, acts) {
  return {
    nodes: [
      heading("That was the training."),
      ...state.at.view.said.map((text) => el("p", {}, text)),
      el("button", { type: "button", className: "choice main", onclick: acts.stopHere }, "Back to the beginning"),
    ],
    update() {},
    keys: (event) => event.key === "Enter" && (acts.stopHere(), true),
  };
}
