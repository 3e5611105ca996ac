// A trial's sounds, fetched and decoded once, and what the browser really plays of them, read back.
//
// A file at another rate than the context's would be resampled by the browser, which loses treble without a change of
// loudness: it is refused. Nothing here knows which setup a sound belongs to.

import { BEGUN, ended, withByte } from "./checksum.js";

export class SoundRefused extends Error {}

export async function decoded(context, trial, bodies) {
  if (context.sampleRate !== trial.rate_hz) {
    throw new SoundRefused(`the sound now runs at ${context.sampleRate} Hz instead of ${trial.rate_hz} Hz`);
  }
  for (const body of bodies) checkHeader(body, trial);
  const sounds = await Promise.all(bodies.map((body) => context.decodeAudioData(body)));
  for (const sound of sounds) {
    if (sound.sampleRate !== trial.rate_hz || sound.length !== trial.frames ||
        sound.numberOfChannels !== trial.channels) {
      throw new SoundRefused(
        `the browser made ${sound.length} frames of ${sound.numberOfChannels} channels at ${sound.sampleRate} Hz ` +
        `of what has ${trial.frames} of ${trial.channels} at ${trial.rate_hz} Hz`);
    }
  }
  return sounds;
}

function checkHeader(body, trial) {
  const view = new DataView(body);
  const long = body.byteLength >= 44;
  if (!long || view.getUint32(0) !== 0x52494646 || view.getUint32(8) !== 0x57415645) {
    throw new SoundRefused("what came is no sound; the connection may have broken");
  }
  const channels = view.getUint16(22, true);
  const rate = view.getUint32(24, true);
  const frames = view.getUint32(40, true) / view.getUint16(32, true);
  const whole = body.byteLength === 44 + view.getUint32(40, true);
  if (rate !== trial.rate_hz || channels !== trial.channels || frames !== trial.frames || !whole) {
    throw new SoundRefused(
      `a sound of ${frames} frames of ${channels} channels at ${rate} Hz came, instead of ` +
      `${trial.frames} of ${trial.channels} at ${trial.rate_hz} Hz${whole ? "" : ", and not all of it"}`);
  }
}

// The sound as it leaves the nodes that play it, at full gain; what they are is up to `play`.
export async function rendered(sound, play) {
  const offline = new OfflineAudioContext(sound.numberOfChannels, sound.length, sound.sampleRate);
  play(offline, sound);
  return offline.startRendering();
}

// What a sound reads: compared by the server with what it sent.
export function reading(sound, weighting) {
  const channels = [];
  for (let channel = 0; channel < sound.numberOfChannels; channel += 1) channels.push(sound.getChannelData(channel));
  return {
    rate_hz: sound.sampleRate,
    frames: sound.length,
    channels: sound.numberOfChannels,
    crc32: crcOfSteps(channels),
    k_power: channels.map((values) => weightedPower(values, weighting)),
    slope_power: channels.map(slopePower),
  };
}

function weightedPower(values, weighting) {
  const [[b0, b1, b2, , a1, a2], [c0, c1, c2, , d1, d2]] = weighting;
  let p = 0, q = 0, r = 0, s = 0, sum = 0;
  for (let i = 0; i < values.length; i += 1) {
    const x = values[i];
    const y = b0 * x + p;
    p = b1 * x - a1 * y + q;
    q = b2 * x - a2 * y;
    const z = c0 * y + r;
    r = c1 * y - d1 * z + s;
    s = c2 * y - d2 * z;
    sum += z * z;
  }
  return sum / values.length;
}

function slopePower(values) {
  let sum = 0;
  for (let i = 1; i < values.length; i += 1) {
    const step = values[i] - values[i - 1];
    sum += step * step;
  }
  return sum / values.length;
}

// CRC-32 over 24-bit steps, frame by frame.
function crcOfSteps(channels) {
  let sum = BEGUN;
  for (let i = 0; i < channels[0].length; i += 1) {
    for (const values of channels) {
      const step = Math.round(values[i] * 8388608);
      sum = withByte(sum, step);
      sum = withByte(sum, step >> 8);
      sum = withByte(sum, step >> 16);
    }
  }
  return ended(sum);
}
