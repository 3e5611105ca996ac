// The desk's door: the code comes with the address, or is typed. Then the page that was asked for.

import { codeForm, comingIn } from "./come_in.js";
import { byId } from "./dom.js";
import { get } from "./remote.js";

async function inside() {
  try {
    await get("/desk/now");
  } catch (error) {
    const title = "The desk is for the operator";
    codeForm(byId("door"), title, "The desk's code, as it stands in the operator's terminal", "/desk/join", inside);
    return;
  }
  location.reload();
}

comingIn(location.pathname + location.search, "/desk/join", inside);
