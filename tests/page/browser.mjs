// What the browser tests share: the built page, served; Chromium; and a watch on everything that goes wrong.
import { createRequire } from 'node:module';
import { serve } from '../../pkg-scripts/serve.mjs';

const { chromium } = createRequire(new URL('../../www/package.json', import.meta.url))('playwright-core');

export const SITE = new URL('../../target/site', import.meta.url).pathname;

/** Without a window, and without a word to anybody. */
export const QUIET = [
  '--headless=new',
  '--hide-scrollbars', // they would be cut off the pictures
  '--no-sandbox',
  '--disable-gpu',
  '--disable-quic',
  '--no-first-run',
  '--disable-background-networking',
  '--disable-component-update',
  '--disable-sync',
];

/** Flags for the sound: Chromium's own fake input (`wav` makes it a file), and the answer to the question for it. */
function soundFlags({ device = true, allow = true, wav } = {}) {
  const flags = [];
  if (device) flags.push('--use-fake-device-for-media-stream');
  flags.push(allow ? '--use-fake-ui-for-media-stream' : '--deny-permission-prompts');
  if (wav) flags.push(`--use-file-for-fake-audio-capture=${wav}`);
  return flags;
}

/** A browser without a window; `sound` as above. */
export function launch({ sound, args = [], ...options } = {}) {
  return chromium.launch({
    executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium',
    headless: false, // chosen by a flag above: the new headless mode has real audio
    ignoreDefaultArgs: ['--mute-audio'],
    args: [...QUIET, ...soundFlags(sound), ...args],
    ...options,
  });
}

/** `problems` collects page errors, console errors (a blocked request is one) and every request to another origin. */
export function watch(page, address) {
  const problems = [];
  page.on('pageerror', (error) => problems.push(`error: ${error.message}`));
  page.on('console', (message) => message.type() === 'error' && problems.push(`console: ${message.text()}`));
  page.on('request', (request) => {
    const url = request.url();
    if (!url.startsWith(address) && !/^(data|blob):/.test(url)) problems.push(`foreign request: ${url}`);
  });
  return problems;
}

/** Opens the page (or another served `site`) in a fresh profile. */
export async function openPage({ context = {}, path = '', site = SITE, ...options } = {}) {
  const server = await serve(site);
  const browser = await launch(options);
  const opened = await browser.newContext(context);
  const page = await opened.newPage();
  const problems = watch(page, server.address);
  await page.goto(server.address + path);
  const close = async () => {
    await browser.close();
    await server.close().catch(() => undefined);
  };
  return { page, context: opened, browser, server, problems, close };
}

/** Opens the page, runs `act` with what `openPage` answers, closes everything, and fails where the page had a problem. */
export async function withPage(options, act) {
  const opened = await openPage(options);
  try {
    await act(opened);
    if (opened.problems.length > 0) throw new Error(opened.problems.join('\n'));
  } finally {
    await opened.close();
  }
}
