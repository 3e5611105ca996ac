// The screen stays awake while somebody listens, where the browser allows it (only over HTTPS, or on this machine).

let lock = null;
let wanted = false;

async function take() {
  if (!wanted || lock || !("wakeLock" in navigator) || document.visibilityState !== "visible") return;
  try {
    lock = await navigator.wakeLock.request("screen");
    lock.addEventListener("release", () => (lock = null));
  } catch {
    lock = null; // a low battery, for one
  }
}

document.addEventListener("visibilitychange", take);

export function awake(is) {
  wanted = is;
  if (is) take();
  else if (lock) lock.release();
}

export const allowed = () => "wakeLock" in navigator;

export const ADVICE =
  "This browser keeps no screen awake over plain HTTP. In your phone's settings, set the screen to stay on for ten " +
  "minutes or longer, and plug it in if you can.";
