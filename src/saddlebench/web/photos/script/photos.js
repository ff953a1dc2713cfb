// Photos: sent as soon as they are chosen, drawn on by touch or by arrow keys, laid over each other.
import { startAdding } from "./parts/adding.js";
import { startComparing } from "./parts/comparing.js";
import { startDrawing } from "./parts/drawing.js";

document.documentElement.classList.add("has-script");
startAdding();
startDrawing();
startComparing();
