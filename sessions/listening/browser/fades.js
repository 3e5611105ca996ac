// The fades of a switch, as gains over time: those of the playback engine (audio/engine/renderer), frame by frame.
//
// A gain of (1 - cos(pi (i + 1/2) / fade)) / 2 belongs to frame i of a fade in. Each is set by itself, half a frame early,
// so that no rounding of a time can push it to the next frame: what comes out is the engine's to the bit. (A curve through
// these points differs in the last bits, and in Chromium goes wrong where two of them meet in one block of 128 frames.)

export function rise(fade) {
  const gains = new Float32Array(fade);
  for (let i = 0; i < fade; i += 1) gains[i] = 0.5 - 0.5 * Math.cos((Math.PI * (i + 0.5)) / fade);
  return gains;
}

// Let a gain rise from 0 to 1, or fall from 1 to 0, from a frame on.
export function fadeIn(parameter, gains, frame, rateHz) {
  gains.forEach((gain, i) => parameter.setValueAtTime(gain, (frame + i - 0.5) / rateHz));
  parameter.setValueAtTime(1, (frame + gains.length - 0.5) / rateHz);
}

export function fadeOut(parameter, gains, frame, rateHz) {
  const last = gains.length - 1;
  gains.forEach((_, i) => parameter.setValueAtTime(gains[last - i], (frame + i - 0.5) / rateHz));
  parameter.setValueAtTime(0, (frame + gains.length - 0.5) / rateHz);
}

// Let a gain rise slowly, over `length` frames from `frame` on.
export function rampUp(parameter, frame, length, rateHz) {
  const points = new Float32Array(257);
  for (let k = 0; k < points.length; k += 1) points[k] = 0.5 - 0.5 * Math.cos((Math.PI * k) / (points.length - 1));
  parameter.setValueCurveAtTime(points, (frame - 0.5) / rateHz, length / rateHz);
}

// What is played over and over of a passage: its part from `first` to `end`, rounded off where it cuts into the music,
// then `pause` frames of silence.
export function withPause(context, sound, first, end, pause, fade) {
  const made = context.createBuffer(sound.numberOfChannels, end - first + pause, sound.sampleRate);
  const gains = rise(fade);
  for (let channel = 0; channel < sound.numberOfChannels; channel += 1) {
    const values = made.getChannelData(channel);
    values.set(sound.getChannelData(channel).subarray(first, end));
    for (let i = 0; i < fade; i += 1) {
      if (first > 0) values[i] *= gains[i];
      if (end < sound.length) values[end - first - 1 - i] *= gains[i];
    }
  }
  return made;
}
