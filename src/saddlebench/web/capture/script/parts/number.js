// What stands on the pad, read as the program reads it: comma and point alike, two readings asked about.
const PLAIN = /^[-−]?(\d+([.,]\d*)?|[.,]\d+)$/;
const GROUPED = /^[-−]?[1-9]\d{0,2}[.,]\d{3}$/;

export function readNumber(text) {
  const tidy = text.trim();
  if (!tidy) return { blank: true };
  if (!PLAIN.test(tidy)) return { wrong: `“${tidy}” is not a number.` };
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
  return `${number} is outside ${low} to ${high}${field.dataset.unit ? ` ${field.dataset.unit}` : ""}. Read it again; Next once more keeps it.`;
}
