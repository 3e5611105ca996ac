// The screens of a viewers' page: each a function that makes its nodes once, and says what keys do there.

import { and, el, heading, key, say } from "./dom.js";
import { labelButtons, musicOf } from "./labels.js";

const DEVICES = [
  ["Headphones or earphones on a cable", 1],
  ["Wireless headphones or earphones", 2],
  ["Loudspeakers", 3],
  ["The speakers of this phone, tablet, laptop or television", 4],
  ["I would rather not say", 0],
];

const choice = (label, onclick, main, ...more) =>
  el("button", { type: "button", className: main ? "choice main" : "choice", onclick }, label, ...more);
const note = (text) => el("p", { className: "note" }, text);
const aside = (text) => el("p", { className: "aside" }, text);
const onEnter = (act) => (event) => event.key === "Enter" && !event.repeat && (act(), true);

function welcome({ test }, acts) {
  const go = () => acts.show("device");
  const what =
    test.method === "abx"
      ? `In each of ${test.trials} trials you hear A, B and X, as often as you like and in any order. X is A or B again; you say which.`
      : `In each of ${test.trials} trials you hear two versions, 1 and 2, as often as you like. You say which you prefer.`;
  return {
    nodes: [
      heading(test.question),
      el("p", {}, what),
      el("p", {}, "There is no hurry, and guessing is fine: not to hear a difference is a result, too. At the end you get a code to send in. What you had right is told to nobody before the test is over, not even to you."),
      note("First turn the volume of your device down. Then this page helps you to set it. Loud music for long harms your hearing: stay at a level at which you could still talk to somebody."),
      choice("Begin", go, true),
      aside(`About ${test.megabytes} MB of sound are loaded on the way: better over Wi-Fi than over mobile data. The page stores nothing and sends nothing to anybody.`),
      el(
        "details",
        {},
        el("summary", {}, "How this is kept honest"),
        el("p", {}, "Your browser draws at random which sound you hear as what. Which of the two setups a sound holds follows from a secret, fixed before this page was made. Its seal should have been published before the page was:"),
        el("p", { className: "seal" }, test.seal),
        el("p", {}, "When the test is over the secret is told, and anybody can work out the key of every order and count anew."),
      ),
    ],
    keys: onEnter(go),
  };
}

function device(state, acts) {
  return {
    nodes: [
      heading("What do you listen on?"),
      aside("It stands in your code, so that devices can be told apart. Wireless headphones code the sound once more, and small speakers play no bass: a cable and good headphones hear most. Switch off equalisers and spatial sound."),
      ...DEVICES.map(([label, place]) => choice(label, () => acts.device(place), false)),
    ],
  };
}

function level(state, acts) {
  const tone = (side, label, letter) => el("button", { type: "button", onclick: () => acts.tone(side) }, label, " ", key(letter));
  return {
    nodes: [
      heading("Set the volume, and check the sides"),
      el("p", {}, "Turn the volume right down. Play the tone on both sides, and turn up slowly until it is as loud as you listen to music. Then leave the volume alone until the end."),
      el(
        "div",
        { className: "tools", role: "group", "aria-label": "Tones" },
        tone("both", "Both sides", "b"),
        tone("left", "Left", "l"),
        tone("right", "Right", "r"),
      ),
      note("A tone that hurts, or rings on in your ears, is too loud: turn down at once."),
      choice("Left is left, and right is right", () => acts.sides(false), true),
      choice("They are exchanged, or I cannot tell", () => acts.sides(true), false, el("small", {}, "You can go on; it stands in your code.")),
    ],
    keys(event) {
      const side = { b: "both", l: "left", r: "right" }[event.key.toLowerCase()];
      if (side && !event.repeat) acts.tone(side);
      return Boolean(side);
    },
  };
}

function begin({ test }, acts) {
  return {
    nodes: [
      heading("Ready"),
      el("p", {}, `Switch between ${and(test.labels)} as often as you like: the place in the music stays.`),
      aside("Keep this page in front while it plays, and the screen on. If the sound is disturbed the trial comes again."),
      choice("Begin with the first trial", acts.begin, true),
    ],
    keys: onEnter(acts.begin),
  };
}

const coming = () => ({ nodes: [heading("The sounds are coming"), aside("This can take a while on a slow connection.")] });

function hear(state, acts) {
  const { test } = state;
  const labels = labelButtons(test.labels, acts);
  const music = musicOf();
  const pausing = el("span", {}, "Pause");
  const pause = el("button", { type: "button", onclick: acts.pause }, pausing, " ", key("Space"));
  const lacking = el("p", { className: "aside", id: "lacking" });
  const done = el("button", { type: "button", className: "choice main", "aria-describedby": "lacking", onclick: acts.answer }, "Answer ", key("Enter"));
  return {
    nodes: [
      heading(test.question),
      labels.node,
      music.node,
      el("div", { className: "tools" }, el("button", { type: "button", onclick: acts.restart }, "From the start ", key("s")), pause),
      el("div", {}, done, lacking),
    ],
    update() {
      const { view } = state;
      labels.update(view);
      music.update(view);
      say(pausing, view.paused ? "Go on" : "Pause");
      pause.disabled = !view.paused && !view.playing;
      const lacks = acts.lacking();
      done.classList.toggle("pale", lacks.length > 0);
      say(lacking, lacks.length ? `Hear ${and(lacks)} before you answer.` : "");
    },
    keys(event) {
      const label = test.labels.find((one) => one.toLowerCase() === event.key.toLowerCase());
      const does = label ? () => acts.hear(label) : { s: acts.restart, " ": acts.pause, enter: acts.answer }[event.key.toLowerCase()];
      if (does && !event.repeat) does();
      return Boolean(does);
    },
  };
}

function answer({ test }, acts) {
  const back = () => acts.show("hear");
  return {
    nodes: [
      heading("Your answer"),
      ...test.answers.map(([label, words], place) => choice(words, () => acts.give(place), false, " ", key(label))),
      el("button", { type: "button", className: "quiet", onclick: back }, "Listen again ", key("Esc")),
    ],
    keys(event) {
      if (event.key === "Escape") return back(), true;
      const place = test.answers.findIndex(([label]) => label.toLowerCase() === event.key.toLowerCase());
      if (place < 0 || event.repeat) return false;
      acts.give(place);
      return true;
    },
  };
}

const disturbed = (state, acts) => ({
  nodes: [
    heading("The sound was disturbed"),
    el("p", {}, "Something else took time from the sound, or the page was put away. This trial comes again, drawn anew."),
    choice("Go on", acts.begin, true),
  ],
  keys: onEnter(acts.begin),
});

const refused = (state, acts) => ({
  nodes: [heading("This trial could not be loaded"), choice("Try again", acts.begin, true)],
  keys: onEnter(acts.begin),
});

function end(state, acts) {
  return {
    nodes: [
      heading("Thank you. This is your code"),
      el("label", { htmlFor: "code" }, "The code, to be sent in whole"),
      el("textarea", { id: "code", rows: 2, readOnly: true, value: state.code, spellcheck: false, autocomplete: "off" }),
      choice("Copy the code", acts.copy, true),
      el("p", {}, state.test.send),
      aside("It holds which order you heard, your answers, and what you listen on; nothing about you. Send it however well you think you did: nobody knows yet, and codes of those who found it hard count as much. Please send one code only."),
    ],
  };
}

export const screens = { welcome, device, level, begin, coming, hear, answer, disturbed, refused, end };
