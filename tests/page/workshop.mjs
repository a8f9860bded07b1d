// A bare page that offers `www/app/audio` and nothing else, so that the sound road can be tried by itself.
import { cp, mkdir, writeFile } from 'node:fs/promises';
import { createRequire } from 'node:module';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';

const { build } = createRequire(new URL('../../www/package.json', import.meta.url))('esbuild');
const root = fileURLToPath(new URL('../..', import.meta.url));
const PAGE =
  '<!doctype html><html lang="en"><title>workshop</title><link rel="icon" href="data:,"><button>go</button><script src="audio.js"></script>';

/** Builds it; answers its folder. */
export async function buildWorkshop() {
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
  await writeFile(join(site, 'index.html'), PAGE);
  return site;
}
