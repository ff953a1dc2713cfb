// What changed: a section of both days follows the slider, and the page prints whole.
import { followSlider, offerPrinting } from "../../base/script/parts/drawings.js";

offerPrinting();
followSlider();
