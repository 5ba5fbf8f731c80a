// What was typed, read as a code while it is typed. The server reads it again and decides.

const ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ";
const LENGTH = 7;

// The check character of ISO/IEC 7064's hybrid system, as inventory/codes/check.py has it.
export function isRight(code) {
  let product = ALPHABET.length;
  for (const character of code.slice(0, -1)) {
    const value = ALPHABET.indexOf(character);
    if (value < 0) return false;
    const total = (product + value) % ALPHABET.length || ALPHABET.length;
    product = (2 * total) % (ALPHABET.length + 1);
  }
  return ALPHABET[(ALPHABET.length + 1 - product) % ALPHABET.length] === code.at(-1);
}

export function normalise(typed) {
  const bare = typed.toUpperCase().replace(/[\s-]/g, "");
  return bare.replaceAll("O", "0").replace(/[IL]/g, "1");
}

// What Tab ends, as some scanners send it in the place of Enter: a code, or an address, also as a
// keyboard of another language writes it and behind what a scanner puts first.
export function isWhole(typed) {
  return judge(typed) === "right" || /^.{0,3}https?\S{9,}$/i.test(typed.trim());
}

// "none" where there is nothing to say: an empty box, or the address of a label, which a phone's
// keyboard may have turned into another text.
export function judge(typed) {
  const code = normalise(typed);
  const { length } = [...code];
  if (!code || code.includes("/") || length > LENGTH) return "none";
  if (length < LENGTH) return "short";
  return isRight(code) ? "right" : "wrong";
}
