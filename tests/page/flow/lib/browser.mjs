// Chromium as the tests use it. Every page is watched: errors on the page and requests to another origin are collected.
import { chromium } from '../../../../www/node_modules/playwright-core/index.mjs';

const QUIET = [
  '--headless=new',
  '--no-sandbox',
  '--disable-gpu',
  '--disable-quic',
  '--no-first-run',
  '--disable-background-networking',
  '--disable-component-update',
  '--disable-sync',
  '--autoplay-policy=user-gesture-required',
];

/** A browser whose microphone is Chromium's own fake one; `wav` makes it a file. Its permission is granted by default. */
export function launch({ fakeDevice = true, allow = true, wav, args = [] } = {}) {
  const sound = [];
  if (fakeDevice) sound.push('--use-fake-device-for-media-stream');
  if (allow) sound.push('--use-fake-ui-for-media-stream');
  if (wav) sound.push(`--use-file-for-fake-audio-capture=${wav}`);
  return chromium.launch({
    executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium',
    headless: false, // the flag above chooses the new headless mode, which has real audio
    args: [...QUIET, ...sound, ...args],
    ignoreDefaultArgs: ['--mute-audio'],
  });
}

/** A page with its errors, console errors and requests in `page.seen`. */
export async function watchedPage(context) {
  const page = await context.newPage();
  page.seen = { errors: [], requests: [] };
  page.on('pageerror', (error) => page.seen.errors.push(String(error)));
  page.on('console', (message) => message.type() === 'error' && page.seen.errors.push(message.text()));
  page.on('request', (request) => page.seen.requests.push(request.url()));
  return page;
}
