// A bare page that offers the modules of `www/app/audio` and nothing else, so that the sound road can be tried by itself.
import { build } from '../../../../www/node_modules/esbuild/lib/main.js';
import { cp, mkdir, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { serve } from '../../../../pkg-scripts/serve.mjs';

/** Serves it; answers `{address, close}` as the server does. */
export async function serveWorkshop(root) {
  const site = join(root, 'target/workshop');
  await mkdir(site, { recursive: true });
  const session = join(root, 'www/app/audio/session.ts');
  await build({
    stdin: { contents: `export * from ${JSON.stringify(session)};`, resolveDir: root },
    bundle: true,
    format: 'iife',
    globalName: 'audio',
    outfile: join(site, 'audio.js'),
    logLevel: 'warning',
  });
  await cp(join(root, 'www/app/audio/worklet.js'), join(site, 'worklet.js'));
  const page = '<!doctype html><html lang="en"><title>workshop</title><link rel="icon" href="data:,"><button>go</button><script src="audio.js"></script>';
  await writeFile(join(site, 'index.html'), page);
  return serve(site);
}
