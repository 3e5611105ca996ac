// Soft tones on the left, on the right and on both, about as loud as the music to come: for the level, and for the sides.

const RISE_S = 0.6; // each tone comes up slowly, in case the volume is up
const LENGTH_S = 2.4;
const HZ = 500;

export class SideCheck {
  /** `gain`: of each channel's tone, so that both together are as loud as the music. */
  constructor(gain) {
    this.gain = gain;
    this.sounding = null;
  }

  /** Sound a tone on "left", "right" or "both"; done when it is over or was stopped. */
  play(context, side) {
    this.stop();
    const [left, right] = { left: [1, 0], right: [0, 1], both: [1, 1] }[side];
    const frames = Math.round(LENGTH_S * context.sampleRate);
    const rise = Math.round(RISE_S * context.sampleRate);
    const sound = context.createBuffer(2, frames, context.sampleRate);
    [left, right].forEach((share, channel) => {
      const values = sound.getChannelData(channel);
      for (let i = 0; share && i < frames; i += 1) {
        const edge = Math.min(1, i / rise, (frames - 1 - i) / rise);
        values[i] = this.gain * (0.5 - 0.5 * Math.cos(Math.PI * edge)) * Math.sin((2 * Math.PI * HZ * i) / context.sampleRate);
      }
    });
    const source = context.createBufferSource();
    source.buffer = sound;
    source.connect(context.destination);
    source.start();
    this.sounding = source;
    return new Promise((done) => {
      source.onended = done;
    });
  }

  stop() {
    this.sounding?.stop();
    this.sounding = null;
  }
}
