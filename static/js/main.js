// @ts-check
/** A page of the office: its behaviours; and, on an enrolled tablet, what still has to be sent goes on being sent. */
import { dragBoard } from "./behaviours/drag-board.js";
import { signature } from "./behaviours/signature.js";
import { onTablet } from "./on-tablet.js";
import { page } from "./page.js";

page(document, { "drag-board": dragBoard, signature });
onTablet();
