// The fades of a switch, as gains over time: those of the playback engine (audio/engine/renderer), frame by frame.
//
// A gain of (1 - cos(pi (i + 1/2) / fade)) / 2 belongs to frame i of a fade in. A curve is drawn through these points and
// those between them and is scheduled half a frame early: then each point falls on the frame it is meant for, and no
// rounding of a time can push it to the next.

export function rise(fade) {
  const gains = new Float32Array(fade);
  for (let i = 0; i < fade; i += 1) gains[i] = 0.5 - 0.5 * Math.cos((Math.PI * (i + 0.5)) / fade);
  return gains;
}

export function riseCurve(fade) {
  const points = new Float32Array(2 * fade + 1);
  for (let k = 0; k < points.length; k += 1) points[k] = 0.5 - 0.5 * Math.cos((Math.PI * k) / (2 * fade));
  return points;
}

export function fallCurve(fade) {
  return riseCurve(fade).reverse();
}

// Of a curve's length: so that the next one, right behind it, never begins before its end by a rounding.
const SHORTER = 1 - 1e-7;

// Let `parameter` follow a curve over `length` frames from `frame` on, and keep its last point from then on.
export function schedule(parameter, curve, frame, length, rateHz) {
  parameter.setValueCurveAtTime(curve, (frame - 0.5) / rateHz, (length * SHORTER) / rateHz);
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
