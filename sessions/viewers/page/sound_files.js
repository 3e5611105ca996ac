// The sounds of a page that was opened from a disk or from any server: each lies in a script that hands it over, since
// from a disk no other file may be read. A script is taken out again once it has spoken.

import { SoundRefused } from "./decoded.js";

const FOLDER = "sounds/";
const AGAIN = 3; // attempts, in case a connection breaks
const AGAIN_MS = 800;

const awaited = new Map();
window.earwitnessSound = (name, text) => awaited.get(name)?.(text);

/** The bytes of a file by its name. */
export async function bytesOf(name) {
  for (let attempt = 1; ; attempt += 1) {
    try {
      return decodedText(await textOf(name));
    } catch (error) {
      if (attempt === AGAIN) throw error;
      await new Promise((done) => setTimeout(done, AGAIN_MS));
    }
  }
}

function textOf(name) {
  return new Promise((done, failed) => {
    const script = document.createElement("script");
    const over = () => {
      awaited.delete(name);
      script.remove();
    };
    awaited.set(name, done);
    script.src = `${FOLDER}${name}.js`;
    script.onload = over;
    script.onerror = () => {
      over();
      failed(new SoundRefused("A sound of this page could not be loaded. Look at your connection, and that the folder is whole."));
    };
    document.head.append(script);
  });
}

function decodedText(text) {
  const letters = atob(text);
  const bytes = new Uint8Array(letters.length);
  for (let i = 0; i < letters.length; i += 1) bytes[i] = letters.charCodeAt(i);
  return bytes.buffer;
}
