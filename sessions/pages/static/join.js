// Coming in: by the code in the address (a camera read it), or by the code that is typed.

import { byId, say } from "./dom.js";
import { get, post } from "./remote.js";

const NOT_IN = "join first"; // what is said to whoever was never inside
const form = byId("join");

async function join(code) {
  try {
    await post("/join", { code });
    location.replace("/chair");
  } catch (error) {
    say(byId("told"), error.message);
    byId("code").focus();
  }
}

form.addEventListener("submit", (event) => {
  event.preventDefault();
  join(byId("code").value);
});

async function begin() {
  try {
    await get("/chair/now");
    location.replace("/chair"); // inside already
    return;
  } catch (error) {
    if (error.status === 401 && error.message !== NOT_IN) say(byId("told"), error.message); // sat here until just now
  }
  const code = decodeURIComponent(location.hash.slice(1));
  if (code) {
    history.replaceState(null, "", "/");
    await join(code);
  } else {
    byId("code").focus();
  }
}

begin();
