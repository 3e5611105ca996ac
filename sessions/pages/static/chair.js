// The chair: it asks the host what is asked now, shows that one thing, and keeps what was answered until the host has it.

import { byId, say, shown } from "./dom.js";
import { get, nonce, post } from "./remote.js";
import { keptDraft } from "./draft.js";
import * as outbox from "./outbox.js";
import { due, heldInWords, tooEarly } from "./held.js";
import { awake } from "./wake.js";
import * as asking from "./asking.js";
import { hearing } from "./hearing.js";
import { OwnSound } from "./own_sound.js";
import { freeHearing, freeStart } from "./free.js";
import { trainingEnd, trainingHearing, trainingQuestion, trainingStart } from "./training.js";
import { forgetWords, wordForm } from "./words.js";

const OFTEN_MS = 400;
const SELDOM_MS = 1500;
const SOON_MS = 120;
const LONGEST_RUN_S = 2; // a host that told nothing for longer is not followed blindly

const state = {
  at: null, // what the host said last
  offered: [], // who may sit down
  step: "listen", // within a trial: listen, answer, sureness, word, leave; before: instead, or what never counts
  draft: { trial: "", choice: "", marks: {} },
  word: null,
  wanted: null, // who somebody says they are, whose page is lost
  strength: 3, // of words with one tap
};
const BEFORE = ["instead", "practice", "training", "free"]; // steps of somebody who sits nowhere yet
let screen = { name: "", update() {} };
let timer = null;
let turns = 0; // of what was asked of the host: a look that began before one of them ended may be older than its answer
const own = new OwnSound(() => state.at && take(state.at));

/** Whose it is, and of what: what never counts is of one time alone. */
function who() {
  const { plan, listener, doing, asked } = state.at;
  return doing === "plan" || !doing ? `${plan}\n${listener}` : `${plan}\n${listener}\n${doing}\n${doing === "free" ? "" : asked ? asked.run : ""}`;
}

// -- what is done --------------------------------------------------------------------------------------------------

function tell(text) {
  say(byId("told"), text || "");
}

/** Ask the host for something; what it says is told, and what it shows since is shown. */
async function doing(path, body) {
  try {
    const found = await turn(post(path, body));
    if (found.view) take({ ...state.at, asking: found.view.asking, view: found.view });
    else take(found);
    tell(found.said ? found.said.message : "");
    return true;
  } catch (error) {
    if (error.status === 401) return leftRoom();
    if (error.body && error.body.view) take({ ...state.at, asking: error.body.view.asking, view: error.body.view });
    if (error.message && error.status) tell(error.message);
    return false;
  }
}

async function turn(asked) {
  turns += 1;
  try {
    return await asked;
  } finally {
    turns += 1;
  }
}

/** A press, where this page plays: a switch is heard at once, the rest when the host has said so. */
async function pressOwn(press) {
  const place = state.at.asked.labels.indexOf(press.label);
  if (press.do === "hear") own.hear(place);
  else await own.tell(); // so that the host knows where the music is
  if (!(await doing("/chair/press", press)) || !own.loaded) return;
  const { view } = state.at;
  if (press.do === "restart") own.page.restart();
  own.obey(view);
  if (press.do === "moment") own.hearFrom(place, press.track_ms / 1000 - view.start_s);
  if (press.do === "seek") own.seek(press.track_ms / 1000, view);
  await own.tell();
}

/** The moment of the music that sounds now: the host told of it a little while ago, and the music went on. */
function momentNow() {
  const { view } = state.at;
  const end_s = view.loop_s ? view.loop_s[1] : view.length_s;
  const ran_s = view.playing ? Math.min(LONGEST_RUN_S, (performance.now() - state.seen) / 1000) : 0;
  const second = own.loaded ? own.page.now().second : Math.min(end_s, state.at.told_s + ran_s);
  const start_s = view.track_ms / 1000 - state.at.told_s;
  return { trial: view.trial_id, stimulus: view.playing, track_ms: Math.max(0, Math.round(1000 * (start_s + second))) };
}

/** Whether something sounds that a word could be of; if not, that is told. */
function isPlaying() {
  const { playing } = state.at.view;
  if (!playing) tell("Play something first; a word belongs to what you hear.");
  return Boolean(playing);
}

const acts = {
  async sit(plan, listener, { instead = false, doing: what = "plan", about = [] } = {}) {
    if (what === "plan") state.step = "listen";
    else instead = true; // a page that is lost is followed; one that is there is not
    forgetWords();
    const output = own.running ? await own.page.output() : null;
    return doing("/chair/sit", { plan, listener, instead, output, doing: what, about });
  },
  instead(plan, listener) {
    state.wanted = { plan, listener };
    acts.step("instead");
  },
  async startSound() {
    try {
      const output = await own.start();
      if (state.at.view) await doing("/chair/sound/output", output);
    } catch (error) {
      tell(error.message);
    }
  },
  async press(what, label = "", track_ms = 0) {
    const press = { trial: state.at.view.trial_id, do: what, label, track_ms };
    await (own.loaded ? pressOwn(press) : doing("/chair/press", press));
    later(SOON_MS); // it sounds in a moment, and then it is shown
  },
  step(name) {
    state.step = name;
    tell("");
    show();
  },
  choose(choice) {
    state.draft.choice = choice;
    acts.step("sureness");
  },
  answer(sureness) {
    const { trial, choice, marks } = state.draft;
    outbox.add("/chair/answer", who(), { trial, nonce: nonce(), sureness, choice, marks });
    state.step = "listen";
    show();
    send();
  },
  takeBack() {
    const item = outbox.waiting("/chair/answer", who());
    if (item) outbox.drop(item);
    show();
  },
  openWord() {
    if (!isPlaying()) return;
    const { view } = state.at;
    const free = state.at.doing === "free";
    state.word = free ? momentNow() : { trial: view.trial_id, stimulus: view.playing, track_ms: view.track_ms };
    acts.step("word");
  },
  /** A word of what sounds now, kept at once. */
  tapWord(line) {
    if (!isPlaying()) return;
    outbox.add("/chair/word", who(), { ...momentNow(), nonce: nonce(), line, strength: state.strength, note: "" });
    show();
    send();
  },
  wordsHeld: () => outbox.count("/chair/word", who()),
  word(line, strength, note) {
    outbox.add("/chair/word", who(), { ...state.word, nonce: nonce(), line, strength, note });
    acts.step("listen");
    send();
  },
  /** Say which one is changed; it is kept here until the host has it. */
  name(label) {
    outbox.add("/chair/answer", who(), { trial: state.at.view.trial_id, nonce: nonce(), sureness: 1, choice: label, marks: {} });
    show();
    send();
  },
  answerHeld: () => Boolean(outbox.waiting("/chair/answer", who())),
  /** Leave the chair: for good, or, where nothing counts, to the beginning. */
  async stopHere() {
    if (state.at.doing === "plan") return acts.leave();
    if (own.loaded) await own.finish();
    state.step = "listen";
    await doing("/chair/rise", {});
    return later(0);
  },
  async leave() {
    try {
      await post("/chair/leave");
    } catch (error) {
      if (!error.status) return;
    }
    state.at = { asking: "left", message: "" };
    show();
  },
  tell,
};

async function send() {
  if (!outbox.any(who())) return null;
  const first = outbox.waiting("/chair/answer", who());
  if (first && !due(first, state.at)) return null;
  if (own.loaded && first) {
    const { asked, view } = state.at;
    if (asked.needed.some((label) => !view.heard.includes(label)) || !(await own.finish())) return null;
  }
  return turn(outbox.send(who(), (item, status, body) => {
    const said = body.said || {};
    if (body.view) take({ ...state.at, asking: body.view.asking, view: body.view });
    const waits = tooEarly(item, status, said);
    if (status === 401) leftRoom();
    else if (status === 422 && body.said && item.path === "/chair/word") {
      state.word = { trial: item.body.trial, stimulus: item.body.stimulus, track_ms: item.body.track_ms, line: item.body.line };
      acts.step("word");
    }
    if (said.message && said.message === state.at.view?.told) tell(""); // the screen says it
    else if (status && !waits) tell(said.message || body.message || (status === 200 && item.path === "/chair/answer" ? "Kept." : ""));
    show();
  }));
}

// -- what is shown -------------------------------------------------------------------------------------------------

function leftRoom() {
  location.replace("/");
  return false;
}

function take(at, settled = false) {
  own.follow(at, settled);
  if (at.view && at.view !== (state.at && state.at.view)) {
    state.seen = performance.now();
    at.told_s = at.view.position_s;
  }
  const before = state.at && state.at.view ? state.at.view.trial_id : "";
  const was = state.at && state.at.asking;
  state.at = at;
  const trial = at.view ? at.view.trial_id : "";
  if (trial && trial !== state.draft.trial) {
    state.draft = keptDraft(who(), trial);
    if (state.step !== "word") state.step = "listen";
  }
  if (was === "away" && at.asking !== "away") tell(""); // why it could not be opened is over
  const elsewhere = state.step === "word" || (BEFORE.includes(state.step) && at.asking === "who");
  if (at.asking !== "hear" && !elsewhere) state.step = "listen";
  if (trial && before && trial !== before && at.asking === "hear") tell("");
  show();
}

function screenOf() {
  const { asking: now } = state.at;
  if (state.step === "word") return ["word", () => wordForm(state, acts)];
  if (state.at.own_sound && !own.running && ["who", "line", "question", "hear", "device", "coming"].includes(now)) {
    return ["silent", () => asking.silent(state, acts)];
  }
  if (now === "hear" && state.at.own_sound && own.loaded !== state.at.view.sound) {
    return [`fetching ${own.refused}`, () => asking.fetching(state, acts, own)];
  }
  const before = { instead: asking.instead, practice: asking.practising, free: freeStart, training: trainingStart }[state.step];
  if (before && now === "who") return [state.step, () => before(state, acts)];
  const trains = state.at.doing === "training" && { question: trainingQuestion, end: trainingEnd, hear: trainingHearing }[now];
  if (trains) return [now === "hear" ? `train ${state.at.view.trial}` : `train-${now}`, () => trains(state, acts)];
  if (now === "question") return [`question ${state.at.view.answered}`, () => asking.screen(now, state, acts)];
  if (now !== "hear") return [`${now}`, () => asking.screen(now, state, acts)];
  if (state.at.doing === "free") return [`free ${state.at.view.trial_id}`, () => freeHearing(state, acts)];
  if (outbox.waiting("/chair/answer", who())) return ["keeping", () => hearing(state, acts, "keeping")];
  if (state.step === "answer") return ["answer", () => asking.answers(state, acts)];
  if (state.step === "sureness") return ["sureness", () => asking.sureness(state, acts)];
  if (state.step === "leave") return ["leave", () => asking.leaving(state, acts)];
  return [`hear ${state.draft.trial}`, () => hearing(state, acts, "listen")];
}

function show() {
  if (!state.at) return;
  const [name, make] = screenOf();
  if (name !== screen.name) {
    screen = { ...make(), name };
    byId("sheet").replaceChildren(...screen.nodes);
    byId("sheet").dataset.screen = name.split(" ")[0];
    const first = byId("sheet").querySelector("[data-first]") || byId("sheet").querySelector("h1");
    if (first) first.focus({ preventScroll: true });
    window.scrollTo(0, 0);
  }
  if (state.at.own_sound && state.at.asking === "hear") state.at.view = own.shown(state.at.view, state.at.asked.labels);
  if (screen.update) screen.update(state);
  if (state.at.asking === "away" && state.at.message === byId("told").textContent) tell(""); // the screen says it
  const elsewhere = !["keeping", "hear", "train"].includes(screen.name.split(" ")[0]) && state.at.doing !== "training";
  const waits = state.at.listener && elsewhere ? heldInWords(outbox.waiting("/chair/answer", who()), state.at) : "";
  say(byId("held"), waits);
  shown(byId("held"), Boolean(waits));
  running();
}

function running() {
  const { asked, view, listener } = state.at;
  say(byId("where"), asked ? `${asked.title} · ${listener}` : "earwitness");
  const { doing: what } = state.at;
  const trial = view && view.trial ? `trial ${view.trial}${asked.trials ? ` of ${asked.trials}` : ""}` : what === "free" && asked ? "nothing counts" : "";
  say(byId("count"), trial);
  document.body.dataset.doing = what || "plan";
  const bar = byId("progress");
  shown(bar, Boolean(asked && view && asked.trials));
  if (!asked || !view || !asked.trials) return awake(state.at.asking === "hear");
  bar.setAttribute("aria-valuemax", asked.trials);
  bar.setAttribute("aria-valuenow", view.answered);
  if (!bar.firstChild) bar.append(document.createElement("i"));
  bar.firstChild.style.width = `${(100 * view.answered) / asked.trials}%`;
  awake(state.at.asking === "hear");
}

// -- asking the host again and again -------------------------------------------------------------------------------

async function poll() {
  clearTimeout(timer);
  try {
    await own.tell();
    const before = turns;
    const at = await get("/chair/now");
    if (before !== turns || before % 2) return later(OFTEN_MS / 4);
    if (at.asking === "who") state.offered = await get("/chair/who");
    take(at, true);
    if (state.at.asking === "away" && !state.at.message) await acts.sit(at.plan, at.listener, at);
    if (at.listener) await send();
    if (state.at.asking === "line") await acts.sit(at.plan, at.listener, at);
  } catch (error) {
    if (error.status === 401) {
      if (!state.at || state.at.asking !== "left") leftRoom();
      return;
    }
  }
  if (state.at && (state.at.asking === "left" || state.at.asking === "end")) return;
  const often = state.at && ["hear", "coming", "question"].includes(state.at.asking);
  later(often ? OFTEN_MS : SELDOM_MS);
}

function later(ms) {
  clearTimeout(timer);
  timer = setTimeout(poll, ms);
}

document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey || !screen.keys) return;
  const target = event.target;
  if (target.matches("input[type=text], textarea") && event.key !== "Escape") return;
  const pressable = target.matches("button, summary, a, input:not([type=range])");
  if (pressable && (event.key === " " || event.key === "Enter")) return;
  if (target.matches("input[type=range], input[type=radio]") && event.key.startsWith("Arrow")) return;
  if (screen.keys(event)) event.preventDefault();
});

document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && poll());
window.addEventListener("online", poll);
poll();
