// Whether the sound's clock keeps step with the page's, and what else shows that sound was missing.

const WINDOW_MS = 5000;
const STEP_S = 0.06; // blocks and timers jitter by less; what is shorter is left to the browser's own count
const LOOK_MS = 200;

// Two clocks drift apart by some hundred parts in a million, and a context's time moves by whole blocks; so what counts
// is a step within some seconds.
export class ClockWatch {
  constructor(stepS = STEP_S) {
    this.stepS = stepS;
    this.seen = [];
  }

  // Start afresh, as after a pause of the context.
  forget() {
    this.seen = [];
  }

  // By how many seconds the sound fell behind (or, below 0, jumped ahead) at this look; 0 where it kept step.
  see(soundS, wallMs) {
    const behind = wallMs / 1000 - soundS;
    this.seen = this.seen.filter((one) => wallMs - one.at < WINDOW_MS);
    const all = this.seen.map((one) => one.behind);
    const fell = behind - Math.min(behind, ...all);
    const jumped = Math.max(behind, ...all) - behind;
    this.seen.push({ at: wallMs, behind });
    if (Math.max(fell, jumped) <= this.stepS) return 0;
    this.seen = [{ at: wallMs, behind }];
    return fell > jumped ? fell : -jumped;
  }
}

// How many underruns the browser itself counted; null where it does not.
export function underrunsOf(context) {
  const stats = context.playbackStats;
  const events = stats?.underrunEvents ?? stats?.fallbackFramesEvents;
  return typeof events === "number" ? events : null;
}

// The faults of a context while something plays: `underruns` and `stalls` since `reset`, and the last one in words.
export class FaultWatch {
  constructor(context, plays) {
    this.context = context;
    this.plays = plays;
    this.clock = new ClockWatch(Math.max(STEP_S, 3 * (context.baseLatency || 0)));
    this.reset();
    context.addEventListener("statechange", () => this._stateChanged());
    document.addEventListener("visibilitychange", () => {
      if (document.hidden && this.plays()) this.hidden += 1;
    });
    navigator.mediaDevices?.addEventListener?.("devicechange", () => { // not told on plain HTTP
      if (this.plays()) this.stall("a sound device came or went");
    });
    this.timer = setInterval(() => this.look(), LOOK_MS);
  }

  reset() {
    this.underruns = 0;
    this.stalls = 0;
    this.hidden = 0; // how often the page was put away while it played: no fault by itself
    this.trouble = "";
    this.counted = underrunsOf(this.context);
    this.clock.forget();
  }

  look() {
    const counted = underrunsOf(this.context);
    if (!this.plays() || this.context.state !== "running") {
      this.clock.forget();
      this.counted = counted;
      return;
    }
    if (counted !== null && counted > this.counted) {
      this.underruns += counted - this.counted;
      this.trouble = "the browser missed sound";
    }
    this.counted = counted;
    const { contextTime, performanceTime } = this.context.getOutputTimestamp?.() ?? {};
    const known = performanceTime > 0;
    const stepS = this.clock.see(known ? contextTime : this.context.currentTime, known ? performanceTime : performance.now());
    if (stepS !== 0) this.stall(`the sound's clock stepped by ${Math.round(1000 * stepS)} ms`);
  }

  stall(words) {
    this.stalls += 1;
    this.trouble = words;
  }

  close() {
    clearInterval(this.timer);
  }

  _stateChanged() {
    this.clock.forget();
    if (this.context.state !== "running" && this.plays()) this.stall(`the browser stopped the sound (${this.context.state})`);
  }
}
