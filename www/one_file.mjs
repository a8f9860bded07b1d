// Puts the built page into ONE HTML file that runs from a disk by a double click: the very files of the folder, inlined;
// only the page's program, which lies in the folder in parts, comes as one.
// Its policy names the two scripts and the sheet by their hashes, so that nothing else can run in it.
import { createHash } from 'node:crypto';
import { readFile, readdir } from 'node:fs/promises';
import { join } from 'node:path';

/** The file's text, from the folder that the page was built into and its program in one piece. */
export async function oneFile(site, whole) {
  const text = (name) => readFile(join(site, name), 'utf8');
  const data = async (name, type) => `data:${type};base64,${(await readFile(join(site, name))).toString('base64')}`;

  const sheet = await withFontsInside((await text('page.css')) + (await text('desk.css')), data);
  const program = inScript(whole);
  const blocks = [
    block('worker', inScript(await text('worker.js'))),
    block('worklet', inScript(await text('worklet.js'))),
  ];
  for (const name of (await readdir(site)).filter((file) => file.endsWith('.wasm')).sort()) {
    blocks.push(block(name, (await readFile(join(site, name))).toString('base64')));
  }
  const icon = await data('icons/icon.svg', 'image/svg+xml');

  const page = await text('index.html');
  const head = [
    ['policy', /content="default-src[^"]*"/, `content="${policy(program, sheet)}"`],
    ['manifest', /\s*<link rel="manifest"[^>]*>/, ''],
    ['icon', /<link rel="icon"[^>]*>/, `<link rel="icon" href="${icon}" />`],
    ['preload', /\s*<link rel="preload"[^>]*>/, ''],
    ['sheet', /<link rel="stylesheet"[^>]*>/, `<style>${sheet}</style>`],
    ['program', /\s*<script type="module" src="page.js"><\/script>/, ''],
    ['end', /<\/body>/, `${blocks.join('\n')}\n<script>${program}</script>\n</body>`],
  ];
  return head.reduce(replaced, page);
}

function replaced(page, [what, pattern, by]) {
  if (!pattern.test(page)) throw new Error(`index.html has changed its shape: no ${what} found`);
  return page.replace(pattern, () => by);
}

/** Text that no browser runs; the page reads it. */
const block = (name, text) => `<script type="text/plain" id="inside-${name}">${text}</script>`;

/** What would end a script early, or hide its end, can only stand in its strings: there it is escaped. */
const inScript = (source) => source.replaceAll(/<(?=\/script|!--)/gi, '\\x3c');

async function withFontsInside(sheet, data) {
  let out = sheet;
  for (const [whole, name] of sheet.matchAll(/url\("?(fonts\/[^")]+)"?\)/g)) {
    out = out.replaceAll(whole, `url(${await data(name, 'font/woff2')})`);
  }
  if (/url\("?(?!data:)/.test(out)) throw new Error('the sheet asks for a file that is not inlined');
  return out;
}

/** `data:` among scripts is for the worklet, which has no hash in any browser. */
function policy(program, sheet) {
  const hash = (text) => `'sha256-${createHash('sha256').update(text).digest('base64')}'`;
  return [
    "default-src 'none'",
    `script-src ${hash(program)} 'wasm-unsafe-eval' data:`,
    `style-src ${hash(sheet)}`,
    'img-src data: blob:',
    'font-src data:',
    'worker-src blob:',
    "base-uri 'none'",
    "form-action 'none'",
  ].join('; ');
}
