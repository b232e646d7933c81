/**
 * Text of strangers in a sentence or in a study file: what does not print as itself is an escape.
 */

/** Signs that print as themselves and stay where they are written. */
const PRINTS = /^[\p{L}\p{M}\p{N}\p{P}\p{S} ]$/u;
const LONGEST = 40;

/** A piece of a link as a sentence shows it: in quotes, short, and without what is invisible. */
export function shown(text: string): string {
  const signs = [...text];
  const cut = signs.length > LONGEST ? [...signs.slice(0, LONGEST), "…"] : signs;
  return `“${cut.map((sign) => (PRINTS.test(sign) ? sign : escaped(sign))).join("")}”`;
}

/**
 * A text as a double-quoted scalar, which JSON and YAML read alike but for signs beyond the basic
 * plane (YAML 1.2.2, section 5.7): those are written with the escape of YAML.
 */
export function quoted(text: string): string {
  const signs = [...text].map((sign) => {
    if (sign === '"' || sign === "\\") return `\\${sign}`;
    return PRINTS.test(sign) ? sign : escaped(sign);
  });
  return `"${signs.join("")}"`;
}

function escaped(sign: string): string {
  const code = sign.codePointAt(0)!.toString(16);
  return code.length > 4 ? `\\U${code.padStart(8, "0")}` : `\\u${code.padStart(4, "0")}`;
}
