// The sound of a trial in the browser: what the playback engine does on the host (audio/engine/renderer), by Web Audio.
//
// All sounds of a trial start on one clock and run on together, each through a gain of its own; a switch fades out what
// is heard and then fades in the other, at the same place in the music, the same way for every request, also to what
// plays already. Times are frames of the context. A passage is followed by a pause and starts again.
//
// It holds no label and no key: sounds are known by their places in the trial's list.

import { decoded, reading, rendered } from "./decoded.js";
import { fadeIn, fadeOut, rampUp, rise, withPause } from "./fades.js";

const AHEAD_S = 0.1; // how far ahead a request is scheduled at least: a listener needs no quick response, a clean one

export class TrialSound {
  constructor(context) {
    this.context = context;
    this.rateHz = context.sampleRate;
    this.master = context.createGain();
    this.master.connect(context.destination);
    this.quiet = true; // nothing was heard on this context yet: the first sound comes up slowly
    this.late = 0;
    this._empty();
  }

  _empty() {
    this.trial = null;
    this.turn = null; // the sources that run now: {startFrame, place, first, end, sources}
    this.index = -1;
    this.held = 0; // the place held while nothing runs
    this.free = 0; // the frame from which gains are steady
    this.settled = 0;
    this.segments = [];
  }

  // Take the sounds of a trial, silent and at their start; what the browser plays of each, to be told to the server.
  async load(trial, bodies) {
    this.unload();
    const sounds = await decoded(this.context, trial, bodies);
    const readings = [];
    for (const sound of sounds) {
      const played = await rendered(sound, (offline, one) => {
        const gain = voice(offline, offline.destination);
        gain.gain.value = 1;
        sourceOf(offline, one, gain).start();
      });
      readings.push(reading(played, trial.weighting));
    }
    this.take(trial, sounds);
    return readings;
  }

  // Take sounds that are decoded already.
  take(trial, sounds) {
    this._empty();
    this.trial = trial;
    this.sounds = sounds;
    this.gains = sounds.map(() => voice(this.context, this.master));
    this.rise = rise(trial.fade);
    this.part = { first: trial.first, end: trial.end };
    this.loops = null;
    this.held = trial.first;
  }

  // Fall silent and let go of the trial.
  unload() {
    if (!this.trial) return;
    this.stop();
    const gains = this.gains;
    setTimeout(() => gains.forEach((gain) => gain.disconnect()), 1000);
    this._empty();
  }

  // The first frame at which a request can be carried out.
  soonest() {
    const ahead = Math.max(AHEAD_S, 2 * (this.context.baseLatency || 0));
    return Math.max(this.free, Math.ceil((this.context.currentTime + ahead) * this.rateHz));
  }

  // Sound a stimulus, or switch to it at the same place in the music.
  play(index, at = this.soonest()) {
    return this._request(at, index, null, true);
  }

  // Sound a stimulus from a frame of the passage.
  playFrom(index, frame, at = this.soonest()) {
    return this._request(at, index, frame, true);
  }

  // Go back to the start of the passage, or of the loop in it.
  restart(at = this.soonest()) {
    return this._request(at, this.index, this.part.first, true);
  }

  // Fade out and hold the place.
  pause(at = this.soonest()) {
    return this._request(at, this.index, null, false);
  }

  // Fade in at the place held.
  resume(at = this.soonest()) {
    return this._request(at, this.index, null, true);
  }

  // Fade out and go back to the start.
  stop(at = this.soonest()) {
    const end = this._request(at, -1, this.part.first, false);
    this.held = this.part.first;
    return end;
  }

  // Keep to a part of the passage from now on, by its first frame and the one after its last.
  loop(first, end, at = this.soonest()) {
    if (!(first >= 0 && first < end && end <= this.trial.frames)) throw new RangeError("a loop lies in its passage");
    const runs = this.turn !== null;
    const after = at + (runs ? this.trial.fade : 0);
    const place = runs ? this._placeAt(after) : this.held;
    this.part = { first, end };
    this.loops = null;
    const kept = this.index >= 0 && place >= first && place < end + this.trial.pause ? place : first;
    if (runs) return this._request(at, this.index, kept, true);
    this.held = kept;
    return at;
  }

  // What sounds now: its place in the list or -1, the frame in the passage, whether the music runs.
  position(at = this._heardNow()) {
    if (!this.turn) return { stimulus: -1, frame: this.held, playing: false };
    return { stimulus: this.index, frame: this._placeAt(Math.max(at, this.turn.startFrame)), playing: true };
  }

  // What was heard since the last call: [stimulus, from frame, to frame] each, as far as it has ended.
  auditions(at = this._heardNow()) {
    const heard = [];
    for (const segment of this.segments) {
      const last = Math.min(segment.to, at);
      while (segment.from < last) {
        const cycle = cycleOf(segment.turn, segment.from, this.trial.pause);
        const soundEnds = segment.from + (segment.turn.end - cycle.place);
        const next = cycle.place < segment.turn.end ? soundEnds : segment.from + cycle.left;
        if (next > last && segment.to > at) break; // it goes on
        const stop = Math.min(next, segment.to);
        if (cycle.place < segment.turn.end) {
          heard.push([segment.stimulus, cycle.place, cycle.place + stop - segment.from]);
        }
        segment.from = stop;
      }
    }
    this.segments = this.segments.filter((segment) => segment.from < segment.to);
    return heard;
  }

  // Take it that all that was scheduled is over, so that the next `auditions` tell all.
  settle() {
    this.settled = this.free;
  }

  // -- inside --------------------------------------------------------------------------------------------------------
  // Carry out a request at a frame; the frame at which it is done.
  _request(at, index, place, running) {
    const { fade } = this.trial;
    let change = at;
    if (this.turn) {
      change = at + fade;
      fadeOut(this.gains[this.index].gain, this.rise, at, this.rateHz);
      this._close(change);
    }
    const here = this.turn ? this._placeAt(change) : this.held;
    const runsOn = this.turn && running && index >= 0 && place === null;
    if (this.turn && !runsOn) {
      for (const source of this.turn.sources) source.stop((change - 0.5) / this.rateHz);
      this.turn = null;
      this.held = place ?? here;
    } else if (!this.turn && place !== null) {
      this.held = place;
    }
    this.index = index;
    let done = change;
    if (running && index >= 0) {
      if (!this.turn) this._start(change, this.held);
      this._rampUp(change);
      fadeIn(this.gains[index].gain, this.rise, change, this.rateHz);
      this.segments.push({ stimulus: index, from: change, to: Infinity, turn: this.turn });
      done = change + fade;
    }
    this.free = done;
    if (this.context.currentTime * this.rateHz >= at && at > 0) this.late += 1;
    return done;
  }

  _start(frame, place) {
    const { pause, fade } = this.trial;
    const { first, end } = this.part;
    const start = place >= first && place < end + pause ? place : first;
    this.loops ??= this.sounds.map((sound) => withPause(this.context, sound, first, end, pause, fade));
    const sources = this.loops.map((loop, n) => {
      const source = sourceOf(this.context, loop, this.gains[n]);
      source.loop = true;
      source.start(frame / this.rateHz, (start - first) / this.rateHz);
      return source;
    });
    this.turn = { startFrame: frame, place: start, first, end, sources };
  }

  _rampUp(frame) {
    if (!this.quiet) return;
    this.quiet = false;
    rampUp(this.master.gain, frame, this.trial.ramp, this.rateHz);
  }

  _close(frame) {
    const last = this.segments.at(-1);
    if (last && last.to === Infinity) last.to = frame;
  }

  _placeAt(frame) {
    return cycleOf(this.turn, frame, this.trial.pause).place;
  }

  _heardNow() {
    const now = Math.floor((this.context.currentTime - (this.context.outputLatency || 0)) * this.rateHz);
    return Math.max(now, this.settled);
  }
}

// Where in the passage a frame of the context lies, and how many frames are left until it starts again.
function cycleOf(turn, frame, pause) {
  const length = turn.end - turn.first + pause;
  const into = (((turn.place - turn.first + frame - turn.startFrame) % length) + length) % length;
  return { place: turn.first + into, left: length - into };
}

function voice(context, destination) {
  const gain = context.createGain();
  gain.gain.value = 0;
  gain.connect(destination);
  return gain;
}

function sourceOf(context, buffer, destination) {
  const source = context.createBufferSource();
  source.buffer = buffer;
  source.connect(destination);
  return source;
}
