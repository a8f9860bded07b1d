// Symbols of figures, set in italics with their index.

const KNOWN: Record<string, [string, string]> = {
  f_s: ['f', 's'],
  q_ms: ['Q', 'ms'],
  q_es: ['Q', 'es'],
  q_ts: ['Q', 'ts'],
  q: ['Q', ''],
  r_e: ['R', 'e'],
  z: ['Z', ''],
  z_max: ['Z', 'max'],
  l_e: ['L', 'e'],
  k: ['K', ''],
  n: ['n', ''],
  l_2: ['L', '2'],
  r_2: ['R', '2'],
  m_ms: ['M', 'ms'],
  c_ms: ['C', 'ms'],
  r_ms: ['R', 'ms'],
  bl: ['Bl', ''],
  s_d: ['S', 'd'],
  v_as: ['V', 'as'],
  eta_0: ['\u03b7', '0'],
  r_es: ['R', 'es'],
};

export function Symbol({ of }: { of: string }) {
  const [letter, index] = KNOWN[of] ?? [of, ''];
  return (
    <i class="symbol">
      {letter}
      {index && <sub>{index}</sub>}
    </i>
  );
}

/** `{f_s}` in our own words, or `Q_es` as the core writes it. */
const SYMBOLS = /\{([a-z_0-9]+)\}|\b((?:f|Q|R|Z|M|C|V|S|L)_(?:ms|es|ts|s|e|as|d|max))\b/;

/** A sentence with its symbols set as symbols. */
export function Rich({ text }: { text: string }) {
  const parts = text.split(SYMBOLS);
  // Split leaves each text followed by the two groups, of which one is empty.
  return <>{parts.map((part, i) => (part === undefined ? null : i % 3 ? <Symbol key={i} of={part.toLowerCase()} /> : part))}</>;
}
