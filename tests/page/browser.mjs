// What the browser tests share: the built page, served; Chromium; and a watch on everything that goes wrong.
import { createRequire } from 'node:module';
import { serve } from '../../pkg-scripts/serve.mjs';

const { chromium } = createRequire(new URL('../../www/package.json', import.meta.url))('playwright-core');

export const SITE = new URL('../../target/site', import.meta.url).pathname;

/**
 * Opens the page in a fresh profile. `problems` collects page errors, console errors (a blocked request is one) and
 * every request to another origin.
 */
export async function openPage({ args = [], context = {}, path = '', channel, ...launch } = {}) {
  const server = await serve(SITE);
  const browser = await chromium.launch({
    executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium',
    args: ['--no-sandbox', ...args],
    ...launch,
  });
  const opened = await browser.newContext(context);
  const page = await opened.newPage();
  const problems = [];
  page.on('pageerror', (error) => problems.push(`error: ${error.message}`));
  page.on('console', (message) => message.type() === 'error' && problems.push(`console: ${message.text()}`));
  page.on('request', (request) => {
    const url = request.url();
    if (!url.startsWith(server.address) && !/^(data|blob):/.test(url)) problems.push(`foreign request: ${url}`);
  });
  await page.goto(server.address + path);
  const close = async () => {
    await browser.close();
    await server.close().catch(() => undefined);
  };
  return { page, context: opened, browser, server, problems, close };
}
