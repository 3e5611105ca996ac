// The desk's pages: what is sent from them, the long work that is under way, and who is in the room.

import { byId } from "./dom.js";
import { building } from "./desk_plan.js";
import { people } from "./desk_room.js";
import { sending } from "./desk_send.js";
import { begun, watch } from "./desk_work.js";

sending(begun);
watch();
if (byId("room")) people();
if (byId("builder")) building();
