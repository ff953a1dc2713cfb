// Numbers in sentences, rounded as the program rounds them: a tie goes to the even digit.
export function fixed(x, digits) {
  const text = tied(x, digits);
  return Number(text) === 0 ? text.replace("-", "") : text;
}

function tied(x, digits) {
  const scaled = Math.abs(x) * 10 ** digits;
  const down = Math.floor(scaled);
  if (scaled - down !== 0.5) return x.toFixed(digits);
  const even = down % 2 ? down + 1 : down;
  return ((Math.sign(x) || 1) * (even / 10 ** digits)).toFixed(digits);
}

// Six significant digits, without zeros that say nothing.
export function general(x) {
  return String(Number(x.toPrecision(6)));
}
