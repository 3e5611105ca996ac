// The sheets of grades, ticks and ratings: nothing is suggested, and a mark belongs to what is heard.

import { and, el, key, say } from "./dom.js";
import { keepDraft } from "./draft.js";
import { labelButton } from "./labels.js";

const NOTHING = { nodes: [], pauses: "space", holdsLabels: false, update() {}, keys: () => false, lacking: () => "" };

export function sheetOf(state, acts) {
  const make = { grades, ticks, ratings }[state.at.asked.kind];
  return make ? { ...NOTHING, ...make(state, acts) } : NOTHING;
}

// -- grades --------------------------------------------------------------------------------------------------------

function grades(state, acts) {
  const { asked } = state.at;
  const rows = asked.labels.map((label) => (asked.graded.includes(label) ? gradeRow(label, state, acts) : openRow(label, acts)));
  return {
    nodes: [
      el("div", { className: "grades" }, ...rows.map((row) => row.node)),
      el("p", { className: "aside keys" }, key("↑ ↓"), " or ", key("g"), " and a number: grade what you hear"),
    ],
    holdsLabels: true,
    update: (view) => rows.forEach((row) => row.update(view)),
    lacking() {
      const without = asked.graded.filter((label) => state.draft.marks[label] === undefined);
      return without.length ? `grade ${and(without)} as well` : oneIsTheReference(asked, state.draft.marks);
    },
    keys(event) {
      if (event.key.toLowerCase() === "g") {
        const here = rows.find((one) => one.type && (one.holds(document.activeElement) || one.label === state.at.view.playing));
        if (here) here.type();
        return Boolean(here);
      }
      const row = rows.find((one) => one.label.toLowerCase() === event.key.toLowerCase());
      if (!row) return false;
      acts.press("hear", row.label);
      row.takeFocus();
      return true;
    },
  };
}

/** Where one of those graded is the open reference, the host wants the highest grade for one. */
function oneIsTheReference(asked, marks) {
  const has = Object.values(marks).some((grade) => Number(grade) === asked.scale.high);
  return asked.one_is_reference && !has ? `one of ${and(asked.graded)} is the reference: give it ${asked.scale.high}` : "";
}

function openRow(label, acts) {
  const button = labelButton(label, acts);
  return {
    label,
    node: el("div", { className: "grade" }, button.node, el("output", {}, "the reference")),
    update: button.update,
    takeFocus: () => button.node.focus(),
  };
}

function gradeRow(label, state, acts) {
  const { scale } = state.at.asked;
  const button = labelButton(label, acts);
  const words = el("output", {});
  const places = String(scale.step).includes(".") ? 1 : 0;
  const slider = el("input", {
    type: "range",
    min: scale.low,
    max: scale.high,
    step: scale.step,
    "aria-label": `Grade of ${label}`,
    oninput: given,
    onpointerup: given,
  });
  const number = el("input", {
    type: "text",
    className: "number",
    inputMode: places ? "decimal" : "numeric",
    autocomplete: "off",
    maxLength: 6,
    "aria-label": `Number for ${label}`,
    onkeydown: numberKey,
    onchange: typed,
  });
  const node = el("div", { className: "grade" }, button.node, slider, words, number);
  slider.value = String((scale.low + scale.high) / 2);
  let wanted = false;

  function given() {
    if (slider.disabled) return;
    give(Number(slider.value));
  }
  function give(grade) {
    number.setAttribute("aria-invalid", "false");
    state.draft.marks[label] = grade.toFixed(places);
    keepDraft(state.draft);
    show();
  }
  /** Take what was typed, with a point or a comma; what is no grade is said, and stays to be mended. */
  function typed() {
    const text = number.value.trim().replace(",", ".");
    if (!text) return show(), true;
    const grade = /^\d*\.?\d+$/.test(text) ? Number(text) : NaN;
    const steps = grade / scale.step;
    const fits = grade >= scale.low && grade <= scale.high && Math.abs(steps - Math.round(steps)) < 1e-6;
    number.setAttribute("aria-invalid", String(!fits));
    if (!fits) {
      acts.tell(`${number.value.trim()} is no grade: type ${scale.low} to ${scale.high}, in steps of ${scale.step}.`);
      return false;
    }
    give(grade);
    return true;
  }
  function numberKey(event) {
    if (event.key !== "Enter" && event.key !== "Escape") return;
    event.preventDefault();
    event.stopPropagation(); // Enter is no answer here, Escape leaves no screen
    if (event.key === "Escape") number.value = state.draft.marks[label] ?? "";
    if (event.key === "Escape") number.setAttribute("aria-invalid", "false");
    if (event.key === "Escape" || typed()) slider.focus();
    else number.select();
  }
  function show() {
    const grade = state.draft.marks[label];
    if (document.activeElement !== number && number.getAttribute("aria-invalid") !== "true") number.value = grade ?? "";
    node.classList.toggle("empty", grade === undefined);
    if (grade !== undefined) slider.value = grade;
    const name = grade === undefined ? "" : [...scale.names].reverse().find((one) => Number(grade) >= Number(one.key));
    const text = grade === undefined ? (slider.disabled ? "hear it, then grade it" : "not graded yet") : `${grade}  ${(name || scale.names[0]).said}`;
    say(words, text);
    slider.setAttribute("aria-valuetext", text);
  }
  return {
    label,
    node,
    update(view) {
      button.update(view);
      slider.disabled = !wanted && !view.heard.includes(label) && state.draft.marks[label] === undefined;
      number.disabled = slider.disabled;
      show();
    },
    takeFocus() {
      wanted = true; // it is asked for now, and heard in a moment
      slider.disabled = number.disabled = false;
      slider.focus();
    },
    holds: (focused) => node.contains(focused),
    type() {
      if (number.disabled) return acts.tell(`Hear ${label}, then grade it.`);
      number.focus();
      number.select();
    },
  };
}

// -- words ---------------------------------------------------------------------------------------------------------

function wordRows(asked, press, attribute) {
  return asked.words.map((word) => {
    const marks = new Map(asked.needed.map((label) => [label, el("span", {})]));
    const node = el(
      "button",
      { type: "button", className: "word", onclick: () => press(word) },
      word,
      el("span", { className: "marks", "aria-hidden": "true" }, ...marks.values()),
    );
    if (attribute) node.setAttribute(attribute, "false");
    return { word, node, marks };
  });
}

function moved(event, rows) {
  const at = rows.findIndex((row) => row.node === document.activeElement);
  const to = { ArrowDown: at + 1, ArrowUp: at < 0 ? 0 : at - 1, Home: 0, End: rows.length - 1 }[event.key];
  if (to === undefined) return -1;
  const place = Math.min(rows.length - 1, Math.max(0, to));
  rows[place].node.focus();
  return place;
}

function ticks(state, acts) {
  const { asked } = state.at;
  const ticked = (label) => state.draft.marks[label] || [];
  const head = el("h2", {}, "Tick what applies");
  const rows = wordRows(asked, press, "aria-pressed");

  function press(word) {
    const label = state.at.view.playing;
    if (!label) return acts.tell("Play one of them first; a tick belongs to what you hear.");
    const before = ticked(label);
    const after = before.includes(word) ? before.filter((one) => one !== word) : [...before, word];
    state.draft.marks = { ...state.draft.marks, [label]: after };
    keepDraft(state.draft);
    update(state.at.view);
    acts.tell(`${word}: ${after.includes(word) ? "ticked" : "not ticked"} of ${label}.`);
  }
  function update(view) {
    say(head, view.playing ? `Tick what applies to ${view.playing}, which you hear` : "Play one of them, and tick the words that apply to it");
    rows.forEach(({ word, node, marks }) => {
      const on = Boolean(view.playing) && ticked(view.playing).includes(word);
      node.setAttribute("aria-pressed", String(on));
      const of = asked.needed.filter((label) => ticked(label).includes(word));
      node.setAttribute("aria-label", `${word}${of.length ? `, ticked of ${and(of)}` : ""}`);
      marks.forEach((mark, label) => {
        mark.className = `${label === view.playing ? "on" : ""} ${ticked(label).includes(word) ? "given" : ""}`;
        say(mark, ticked(label).includes(word) ? `${label} ✓` : label);
      });
    });
  }
  return {
    nodes: [head, el("ul", { className: "ballot" }, ...rows.map((row) => el("li", {}, row.node)))],
    pauses: "p",
    update,
    keys: (event) => moved(event, rows) >= 0,
  };
}

function ratings(state, acts) {
  const { asked } = state.at;
  const [least, most] = asked.rating;
  const of = (label) => state.draft.marks[label] || {};
  const rows = wordRows(asked, (word) => turnTo(word), "aria-current");
  const head = el("h2", {}, "Rate each word");
  const what = el("p", { id: "rating-of" });
  const digits = Array.from({ length: most - least + 1 }, (_, at) => least + at);
  const keys = digits.map((digit) => el("button", { type: "button", onclick: () => rate(digit) }, String(digit)));
  let current = asked.words[0];

  function turnTo(word) {
    current = word;
    update(state.at.view);
  }
  function rate(digit) {
    const label = state.at.view.playing;
    if (!label) return acts.tell("Play one of them first; a rating belongs to what you hear.");
    state.draft.marks = { ...state.draft.marks, [label]: { ...of(label), [current]: digit } };
    keepDraft(state.draft);
    const said = `${current}: ${digit} of ${label}.`;
    const next = asked.words.find((word) => of(label)[word] === undefined);
    if (next) turnTo(next);
    else update(state.at.view);
    acts.tell(next ? `${said} Next: ${next}.` : `${said} All words are rated of ${label}.`);
  }
  function update(view) {
    const label = view.playing;
    say(head, label ? `You hear ${label}` : "Play one of them, and rate the words for it");
    say(what, label ? `${current}, of ${label}: ${least} is not at all, ${most} is very much` : `${current}: ${least} is not at all, ${most} is very much`);
    keys.forEach((button, at) => {
      button.disabled = !label;
      button.setAttribute("aria-label", `${digits[at]} for ${current}${label ? ` of ${label}` : ""}`);
      button.setAttribute("aria-pressed", String(Boolean(label) && of(label)[current] === digits[at]));
    });
    rows.forEach(({ word, node, marks }) => {
      node.setAttribute("aria-current", String(word === current));
      const given = asked.needed.filter((one) => of(one)[word] !== undefined).map((one) => `${of(one)[word]} of ${one}`);
      node.setAttribute("aria-label", `${word}${given.length ? `, rated ${and(given)}` : ", not rated yet"}`);
      marks.forEach((mark, one) => {
        const rating = of(one)[word];
        mark.className = `${one === label ? "on" : ""} ${rating !== undefined ? "given" : ""}`;
        say(mark, rating === undefined ? `${one}: –` : `${one}: ${rating}`);
      });
    });
  }
  function next() {
    const at = asked.needed.indexOf(state.at.view.playing);
    acts.press("hear", asked.needed[(at + 1) % asked.needed.length]);
  }
  return {
    nodes: [
      head,
      el("ul", { className: "ballot" }, ...rows.map((row) => el("li", {}, row.node))),
      el("div", { className: "keypad", role: "group", "aria-labelledby": "rating-of" }, what, ...keys),
      el("p", { className: "aside keys" }, key("space"), " hears the next one, ", key("0–9"), " rate, ", key("↑ ↓"), " choose the word"),
    ],
    pauses: "p",
    update,
    lacking() {
      for (const label of asked.needed) {
        const without = asked.words.filter((word) => of(label)[word] === undefined);
        const more = without.length > 1 ? ` and ${without.length - 1} more` : "";
        if (without.length) return `rate ${without[0]}${more} of ${label} as well: ${least} is not at all`;
      }
      return "";
    },
    keys(event) {
      if (event.key === " ") return next(), true;
      if (/^[0-9]$/.test(event.key)) return rate(Number(event.key)), true;
      const place = moved(event, [...rows]);
      if (place >= 0) turnTo(rows[place].word);
      return place >= 0;
    },
  };
}
