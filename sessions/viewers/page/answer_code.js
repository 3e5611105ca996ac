// The answer code: what this page found out, in some letters. The rule is that of `plans/answer_codes`.

import { BEGUN, ended, withByte } from "./checksum.js";

const LETTERS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ";
const PAYLOAD_BYTES = 11;
const MOST_TRIALS = 12;

/** A whole number below 2^bits, from the browser's generator for keys. */
export function drawn(bits) {
  const [number] = crypto.getRandomValues(new Uint32Array(1));
  return number >>> (32 - bits);
}

/** One of k equally likely whole numbers. */
export function oneOf(k) {
  const limit = Math.floor(2 ** 32 / k) * k;
  for (;;) {
    const [number] = crypto.getRandomValues(new Uint32Array(1));
    if (number < limit) return number % k;
  }
}

/** The code; `answers` are 0 or 1 in the order heard, `files` the file that each slot played. */
export function answerCode({ tag, chance, disturbed, inexact, sides, device, turn, files, answers }) {
  let number = BigInt(tag);
  const put = (value, bits) => {
    number = (number << BigInt(bits)) | BigInt(value);
  };
  put(chance, 24);
  put(disturbed ? 1 : 0, 1);
  put(inexact ? 1 : 0, 1);
  put(sides ? 1 : 0, 1);
  put(device, 3);
  put(turn, 4);
  put(files.reduce((bits, file, slot) => bits + file * 2 ** slot, 0), MOST_TRIALS);
  for (let trial = 0; trial < MOST_TRIALS; trial += 1) put(trial < answers.length ? answers[trial] + 1 : 0, 2);
  const bytes = Array.from({ length: PAYLOAD_BYTES }, (_, n) => Number((number >> BigInt(8 * (PAYLOAD_BYTES - 1 - n))) & 255n));
  put(ended(bytes.reduce(withByte, BEGUN)), 32);
  let letters = "";
  for (let place = 23; place >= 0; place -= 1) letters += LETTERS[Number((number >> BigInt(5 * place)) & 31n)];
  return ["EW1", ...letters.match(/.{4}/g)].join("-");
}
