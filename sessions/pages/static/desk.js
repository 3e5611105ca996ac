// The desk's pages: what is sent from them, the long work that is under way, and who is in the room.

import { byId } from "./dom.js";
import { building } from "./desk_plan.js";
import { pictures } from "./desk_pictures.js";
import { people } from "./desk_room.js";
import { sending } from "./desk_send.js";
import { standing } from "./desk_standing.js";
import { begun, watch } from "./desk_work.js";

sending(begun);
watch();
pictures();
if (byId("room")) people();
if (byId("standing")) standing();
if (byId("builder")) building();
