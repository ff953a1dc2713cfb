// Words of scripts in the language of their page: English stands in the scripts, other words come with the page.
// What is filled in stands between braces, and its name says what it is: {number}; {name}, which people wrote; {words}.
const body = globalThis.document?.body;
let catalogue = JSON.parse(body?.dataset.words || "{}");
let language = globalThis.document?.documentElement.lang || "en-GB";

export function speak(words, tongue) {
  catalogue = words;
  language = tongue;
}

export function told(words, given = {}) {
  return (catalogue[words] || words).replace(/\{(number|name|words)\d*\}/g, (place, kind) => {
    const value = given[place.slice(1, -1)];
    return kind === "number" ? figure(value) : String(value);
  });
}

// One or several of something.
export const many = (n, one, more) => told(n === 1 ? one : more, { number: n });

// A number with the language's decimal mark.
export const figure = (value) => (language === "de" ? String(value).replace(".", ",") : String(value));

// A day as it is written, from an instant or from “2026-05-04”.
export function dayWords(day) {
  const on = typeof day === "string" ? new Date(`${day}T12:00`) : new Date(day);
  return on.toLocaleDateString(language, { weekday: "short", day: "numeric", month: "short", year: "numeric" });
}
