// What stands on the pad, read as the program reads it: comma and point alike, two readings asked about.
import { told } from "../../../base/script/parts/told.js";

const PLAIN = /^[-−]?(\d+([.,]\d*)?|[.,]\d+)$/;
const GROUPED = /^[-−]?[1-9]\d{0,2}[.,]\d{3}$/;

export function readNumber(text) {
  const tidy = text.trim();
  if (!tidy) return { blank: true };
  if (!PLAIN.test(tidy)) return { wrong: told("“{name}” is not a number.", { name: tidy }) };
  if (GROUPED.test(tidy)) {
    const whole = tidy.replace(/[.,]/, "");
    return { ask: [whole, `${tidy.replace(",", ".")}0`], whole, decimal: tidy.replace(",", ".") };
  }
  return { number: Number(tidy.replace(",", ".").replace("−", "-")) };
}

export function outOfRange(number, field) {
  if (!field.dataset.low) return "";
  const low = Number(field.dataset.low);
  const high = Number(field.dataset.high);
  if (number >= low && number <= high) return "";
  const given = { number, number2: low, number3: high, words: field.dataset.unit ? ` ${field.dataset.unit}` : "" };
  return told("{number} is outside {number2} to {number3}{words}. Read it again; Next once more keeps it.", given);
}
