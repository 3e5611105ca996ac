// CRC-32 (as in ISO/IEC 13239 and gzip), a byte at a time: crypto.subtle is not there on plain HTTP.

const TABLE = Uint32Array.from({ length: 256 }, (_, n) => {
  let c = n;
  for (let k = 0; k < 8; k += 1) c = c & 1 ? 0xedb88320 ^ (c >>> 1) : c >>> 1;
  return c >>> 0;
});

export const BEGUN = 0xffffffff;

/** The sum with one more byte; of a longer number its lowest eight bits. */
export const withByte = (sum, byte) => TABLE[(sum ^ byte) & 255] ^ (sum >>> 8);

/** The CRC, once all bytes are in the sum. */
export const ended = (sum) => (sum ^ 0xffffffff) >>> 0;
