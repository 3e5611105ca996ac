// A blind test in the viewer's own browser: what is asked when, one thing at a time. It talks to nobody.
//
// The page knows two files for each slot and draws by itself which of them is played. Which setup a file holds stands
// nowhere in it: that follows from a secret which whoever made the page keeps until the end.

import { answerCode, drawn, oneOf } from "./answer_code.js";
import { and, byId, say, shown } from "./dom.js";
import { PageSound } from "./page_sound.js";
import { SideCheck } from "./side_check.js";
import { bytesOf } from "./sound_files.js";
import { screens } from "./viewer_screens.js";

const LOOK_MS = 120;

const test = JSON.parse(byId("test").textContent);
export const state = {
  test,
  device: 0,
  sides: false,
  disturbed: false,
  inexact: false,
  turn: oneOf(test.trials),
  files: Array.from({ length: test.trials }, () => drawn(1)),
  answers: [],
  view: { playing: null, heard: [], paused: false, position_s: 0, length_s: 0, passage: "" },
  code: "",
};
export const page = new PageSound(test.rate_hz);
const check = new SideCheck(test.tone);
const open = new Map(); // A and B of a passage, fetched once
let here = null;
let asking = "";

const acts = {
  show,
  tell: (text) => say(byId("told"), text),
  device(place) {
    state.device = place;
    show("level");
  },
  async tone(side) {
    try {
      await page.start();
      acts.tell(`A tone ${{ left: "on the left", right: "on the right", both: "on both sides" }[side]}.`);
      await check.play(page.context, side);
    } catch (error) {
      acts.tell(error.message);
    }
  },
  sides(wrong) {
    check.stop();
    state.sides = wrong;
    show("begin");
  },
  async begin() {
    try {
      await page.start();
    } catch (error) {
      acts.tell(error.message);
      return;
    }
    await offer();
  },
  hear(label) {
    state.view.paused = false;
    page.hear(test.labels.indexOf(label));
    look();
  },
  press: (_, label) => acts.hear(label), // as labels ask for it
  restart() {
    if (!state.view.playing) return;
    page.restart();
  },
  pause() {
    if (state.view.paused) page.resume();
    else page.pause();
    state.view.paused = !state.view.paused;
    look();
  },
  lacking() {
    return test.needed.filter((label) => !state.view.heard.includes(label));
  },
  answer() {
    const lacks = acts.lacking();
    if (lacks.length) acts.tell(`Hear ${and(lacks)} before you answer.`);
    else show("answer");
  },
  async give(place) {
    if (asking !== "answer") return;
    asking = "given";
    await page.stop();
    state.answers.push(place);
    if (state.answers.length === test.trials) finish();
    else await offer();
  },
  async copy() {
    const field = byId("code");
    field.select();
    try {
      await navigator.clipboard.writeText(state.code);
    } catch {
      document.execCommand("copy"); // from a disk or over plain HTTP there is no other way
    }
    acts.tell("Copied. Paste it where you were asked to.");
  },
};

// Bring the next trial, or the same one again with a fresh draw.
async function offer() {
  const trial = state.answers.length;
  const place = (state.turn + trial) % test.trials;
  const slot = test.slots[place];
  const passage = test.passages[slot.passage];
  show("coming");
  const names = [...passage.open, ...(test.method === "abx" ? [slot.files[state.files[place]]] : both(slot.files, state.files[place]))];
  const given = {
    number: trial, names, frames: passage.frames, channels: passage.channels, rate_hz: test.rate_hz, pause: test.pause,
    fade: test.fade, ramp: test.ramp, first: 0, end: passage.frames, weighting: test.weighting,
  };
  try {
    const readings = await page.load(given, fetched(passage));
    if (readings.some((one, n) => one.crc32 !== test.crc32[names[n]])) state.inexact = true;
  } catch (error) {
    acts.tell(error.message);
    show("refused");
    return;
  }
  state.view = { playing: null, heard: [], paused: false, position_s: 0, length_s: passage.frames / test.rate_hz, passage: passage.name };
  page.context.onstatechange = look;
  show("hear");
}

const both = (files, first) => [files[first], files[1 - first]];

// How a passage's files come; what is decoded is used up, so that A and B are kept and copied.
function fetched(passage) {
  return async (name) => {
    if (!passage.open.includes(name)) return bytesOf(name);
    if (!open.has(name)) open.set(name, await bytesOf(name));
    return open.get(name).slice(0);
  };
}

// What sounds, and whether it was disturbed.
function look() {
  if ((asking !== "hear" && asking !== "answer") || !page.trial) return;
  const { stimulus, second, playing } = page.now();
  const { view } = state;
  view.playing = playing && stimulus >= 0 ? test.labels[stimulus] : null;
  view.position_s = second;
  if (view.playing && !view.heard.includes(view.playing)) view.heard.push(view.playing);
  if (page.faults.stalls + page.faults.underruns > 0 || page.sound.late > page.lateBefore) disturbed();
  else here?.update?.();
}

async function disturbed() {
  state.disturbed = true;
  asking = "disturbed";
  await page.stop();
  const place = (state.turn + state.answers.length) % test.trials;
  state.files[place] = drawn(1);
  show("disturbed");
}

function finish() {
  const { device, sides, disturbed, inexact, turn, files, answers } = state;
  state.code = answerCode({ tag: test.tag, chance: drawn(24), disturbed, inexact, sides, device, turn, files, answers });
  page.context.onstatechange = null;
  show("end");
}

function show(name) {
  asking = name;
  const sheet = byId("sheet");
  here = screens[name](state, acts);
  sheet.dataset.screen = name;
  sheet.replaceChildren(...here.nodes);
  here.update?.();
  const inTrial = ["hear", "answer", "coming", "disturbed", "refused"].includes(name);
  const trial = Math.min(state.answers.length + 1, test.trials);
  say(byId("count"), inTrial ? `trial ${trial} of ${test.trials}` : "");
  const progress = byId("progress");
  shown(progress, inTrial);
  progress.setAttribute("aria-valuenow", String(state.answers.length));
  progress.setAttribute("aria-valuemax", String(test.trials));
  progress.firstElementChild.style.width = `${(100 * state.answers.length) / test.trials}%`;
  if (name !== "refused") say(byId("told"), "");
  sheet.querySelector("h1").focus();
}

document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.altKey || event.metaKey || event.target.matches("input, textarea, summary")) return;
  if (event.key === " " && event.target.matches("button")) return; // it presses that button
  if (event.key === "Enter" && event.target.matches("button")) return;
  if (here?.keys?.(event)) event.preventDefault();
});
setInterval(look, LOOK_MS);
show("welcome");
