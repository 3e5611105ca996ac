// The sound of this page itself, where the host is set so: started by a touch, loaded for each trial, told to the host.
//
// A switch is carried out here at once; the host is told of it. Whatever else the remote asks for (pause, loop, start) is
// done here when the host has said so, so that both always agree.

import { SoundRefused, PageSound } from "/sound/page_sound.js";
import { Refusal, bytes, get, post } from "./remote.js";

const START = "Touch Start once more; if it stays silent, look at the volume and the mute switch, or use another browser.";

const AGAIN_MS = 1500;

const partOf = (view) => view.loop_s || [0, Infinity];

export class OwnSound {
  /** `changed` is called when what is to be shown may have changed. */
  constructor(changed) {
    this.changed = changed;
    this.page = new PageSound();
    this.loaded = ""; // by what the host knows the trial's sounds
    this.loading = "";
    this.refused = "";
    this.loop = null;
    this.paused = false;
    this.place = -1; // which one was asked for last
  }

  get running() {
    return this.page.running;
  }

  /** Start the browser's output, within a touch or a key press; what it tells of itself. */
  async start() {
    try {
      const output = await this.page.start();
      this.page.context.onstatechange = this.changed;
      return output;
    } catch (error) {
      throw new SoundRefused(error instanceof SoundRefused ? error.message : START);
    } finally {
      this.changed();
    }
  }

  /** Be in step with what the host shows; `settled`: nothing was pressed since it was asked. */
  follow(at, settled) {
    const { view } = at;
    const wanted = at.own_sound && at.asking === "hear" && view ? view.sound : "";
    if (this.loaded && this.loaded !== wanted) {
      this.page.stop();
      this.loaded = "";
    }
    if (wanted && this.running && wanted !== this.loaded && wanted !== this.loading && wanted !== this.refused) this.load(wanted, view);
    if (this.loaded && settled) this.obey(view);
  }

  obey(view) {
    const loop = partOf(view);
    if (String(loop) !== String(this.loop)) {
      this.loop = loop;
      this.page.loop(...loop);
    }
    if (view.paused === this.paused) return;
    this.paused = view.paused;
    if (view.paused) this.page.pause();
    else if (!this.page.now().playing) this.page.resume();
  }

  async load(wanted, view) {
    this.loading = wanted;
    this.why = "";
    try {
      const trial = await get("/chair/sounds");
      if (!trial || trial.names[0] !== wanted) return;
      const readings = await this.page.load(trial, (name) => bytes(`/chair/sounds/${name}`));
      await post("/chair/sound/read", { trial: trial.number, readings });
      this.loop = partOf(view);
      this.paused = false;
      this.place = -1;
      this.loaded = wanted;
    } catch (error) {
      if (error instanceof SoundRefused || (error instanceof Refusal && error.status === 422)) {
        this.refused = wanted;
        this.why = error.message;
      } else {
        await new Promise((done) => setTimeout(done, AGAIN_MS)); // the connection is lost: it is tried again
      }
    } finally {
      this.loading = "";
      this.changed();
    }
  }

  again() {
    this.refused = "";
    this.changed();
  }

  hear(place) {
    this.paused = false;
    this.place = place;
    this.page.hear(place);
  }

  /** Sound one of them from a second of the passage. */
  hearFrom(place, second) {
    this.paused = false;
    this.place = place;
    this.page.hearFrom(place, Math.max(0, second));
  }

  /** Go on some seconds later or earlier, as far as it goes. */
  seek(by, view) {
    if (this.place < 0) return;
    const [first, end] = partOf(view);
    const to = Math.max(first, this.page.now().second + by);
    this.hearFrom(this.place, Math.min(to, Math.min(end, view.length_s) - 0.05));
  }

  /** What the page knows better than the host: what sounds, and where the music is. */
  shown(view, labels) {
    if (!this.loaded || view.sound !== this.loaded) return view;
    const { stimulus, second, playing } = this.page.now();
    return { ...view, playing: playing ? labels[stimulus] : null, position_s: second };
  }

  /** Tell the host what was heard; whether it knows. */
  async tell() {
    if (!this.loaded) return true;
    const report = this.page.report();
    try {
      await post("/chair/sound/told", report);
    } catch {
      return false;
    }
    this.page.reached(report);
    return true;
  }

  /** Fall silent, with all of it told; whether the host knows. */
  async finish() {
    if (!this.loaded) return true;
    await this.page.stop();
    return this.tell();
  }
}
