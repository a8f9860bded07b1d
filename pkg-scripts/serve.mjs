// Serves a folder on localhost: `node serve.mjs FOLDER [PORT]`. PORT 0 takes a free one; the address is printed.
import { createServer } from 'node:http';
import { readFile } from 'node:fs/promises';
import { extname, join, normalize, sep } from 'node:path';
import { resolve } from 'node:path';

const TYPES = {
  '.html': 'text/html; charset=utf-8',
  '.js': 'text/javascript; charset=utf-8',
  '.css': 'text/css; charset=utf-8',
  '.wasm': 'application/wasm',
  '.json': 'application/json',
  '.webmanifest': 'application/manifest+json',
  '.svg': 'image/svg+xml',
  '.png': 'image/png',
  '.woff2': 'font/woff2',
  '.txt': 'text/plain; charset=utf-8',
};

/** Starts the server; answers `{address, close}`. */
export async function serve(folder, port = 0) {
  const root = resolve(folder);
  const server = createServer(async (request, response) => {
    const found = await find(root, request.url ?? '/');
    response.writeHead(found ? 200 : 404, {
      'Content-Type': found?.type ?? 'text/plain; charset=utf-8',
      'Cache-Control': 'no-cache',
    });
    response.end(request.method === 'HEAD' ? undefined : (found?.bytes ?? 'not here'));
  });
  await new Promise((done, failed) => server.once('error', failed).listen(port, '127.0.0.1', done));
  const address = `http://localhost:${server.address().port}/`;
  const close = () => {
    server.closeAllConnections();
    return new Promise((done) => server.close(done));
  };
  return { address, close };
}

async function find(root, url) {
  try {
    let path = decodeURIComponent(new URL(url, 'http://localhost').pathname);
    if (path.endsWith('/')) path += 'index.html';
    const file = join(root, normalize(path));
    if (!file.startsWith(root + sep)) return undefined;
    return { bytes: await readFile(file), type: TYPES[extname(file)] ?? 'application/octet-stream' };
  } catch {
    return undefined;
  }
}

if (process.argv[1] && import.meta.url.endsWith(process.argv[1].split(sep).pop())) {
  const [folder = 'target/site', port = process.env.PORT ?? '8017'] = process.argv.slice(2);
  const { address } = await serve(folder, Number(port));
  console.log(`Conewright is at ${address} (stop with Ctrl+C)`);
}
