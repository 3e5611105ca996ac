// The sound of a chair page that plays by itself: what the page calls, and what it tells the server.
//
// A page makes one of it, starts it within a tap or a key press (browsers ask for that), and gives it each trial. What
// goes to the server goes through the page: `told` after each fetch is the page's business, and telling the same report
// twice does no harm.

import { SoundRefused } from "./decoded.js";
import { FaultWatch } from "./clock_watch.js";
import { TrialSound } from "./trial_sound.js";

export { SoundRefused };

const SETTLE_MS = 3000; // a device that needs longer to start is none to listen on

export class PageSound {
  // `rateHz`: at which it is to run where the sounds were made beforehand; without it the browser's own.
  constructor(rateHz = undefined) {
    this.rateHz = rateHz;
    this.context = null;
    this.trial = null;
  }

  // Open the browser's output; what it tells of itself. Within a tap or a key press.
  async start() {
    if (!this.context) {
      this.context = new AudioContext({ latencyHint: "playback", sampleRate: this.rateHz });
      this.sound = new TrialSound(this.context);
      this.faults = new FaultWatch(this.context, () => this.sound.position().playing);
    }
    await Promise.race([this.context.resume(), new Promise((done) => setTimeout(done, SETTLE_MS))]);
    if (this.context.state !== "running") throw new SoundRefused("the browser did not start its sound; touch again");
    return this.output();
  }

  // Whether the output runs: a browser may stop it for a call, another page or a lost device.
  get running() {
    return this.context?.state === "running";
  }

  async output() {
    return {
      rate_hz: this.context.sampleRate,
      channels: this.context.destination.maxChannelCount,
      device: await label(this.context),
      base_latency_s: this.context.baseLatency || 0,
      output_latency_s: this.context.outputLatency || 0,
    };
  }

  // Take a trial: `fetched` brings the bytes of a file by its name. What the browser plays of each, for the server.
  async load(trial, fetched) {
    this.trial = null;
    const bodies = await Promise.all(trial.names.map(fetched));
    const readings = await this.sound.load(trial, bodies);
    this.trial = trial;
    this.unkept = [];
    this.kept = 0;
    this.lateBefore = this.sound.late;
    this.faults.reset();
    return readings;
  }

  hear(place) {
    this.sound.play(place);
  }

  // Sound a stimulus from a second of the passage.
  hearFrom(place, second) {
    this.sound.playFrom(place, Math.min(this.trial.frames - 1, Math.round(second * this.trial.rate_hz)));
  }

  restart() {
    this.sound.restart();
  }

  pause() {
    this.sound.pause();
  }

  resume() {
    this.sound.resume();
  }

  // Keep to a part of the passage, in seconds from its start.
  loop(firstS, endS) {
    const frame = (timeS) => Math.min(this.trial.frames, Math.round(timeS * this.trial.rate_hz));
    this.sound.loop(frame(firstS), frame(endS));
  }

  // Fall silent; done when nothing sounds any more and all of it is in the next report.
  async stop() {
    if (!this.trial) return;
    const end = this.sound.stop() / this.context.sampleRate + (this.context.outputLatency || 0);
    const left = end - this.context.currentTime;
    if (this.context.state === "running" && left > 0) await new Promise((done) => setTimeout(done, 1000 * left + 30));
    this.sound.settle();
  }

  // What sounds now, for the page: the place in the trial's list or -1, and the second of the passage.
  now() {
    const { stimulus, frame, playing } = this.sound.position();
    return { stimulus, second: Math.min(frame, this.trial.frames) / this.trial.rate_hz, playing };
  }

  // What is to be told to the server; `reached` says that a report came there.
  report() {
    this.unkept.push(...this.sound.auditions());
    const late = this.sound.late - this.lateBefore;
    const { stimulus, frame, playing } = this.sound.position();
    return {
      trial: this.trial.number,
      stimulus,
      frame,
      playing,
      told_before: this.kept,
      auditions: [...this.unkept],
      underruns: this.faults.underruns,
      stalls: this.faults.stalls + late,
      hidden: this.faults.hidden,
      trouble: this.faults.trouble || (late ? "the page was too busy to switch in time" : ""),
    };
  }

  reached(report) {
    const gone = report.told_before + report.auditions.length - this.kept;
    if (report.trial !== this.trial?.number || gone <= 0) return;
    this.unkept.splice(0, gone);
    this.kept += gone;
  }
}

// The name of the output, where the browser tells it: only in a secure context, and mostly not even there.
async function label(context) {
  const devices = (await navigator.mediaDevices?.enumerateDevices?.().catch(() => [])) ?? [];
  const id = typeof context.sinkId === "string" && context.sinkId ? context.sinkId : "default";
  return devices.find((one) => one.kind === "audiooutput" && one.deviceId === id)?.label ?? "";
}
