// @ts-check
/** The one script of a page that the tablet itself made. Its own address says which bundle it is of. */
import { tabletPage } from "./start.js";

tabletPage(new URL(import.meta.url).pathname.split("/")[2]);
