// The screens around jobs with their styles, fetched when one of them is opened. In one file both are there already.
import { inOneFile } from '../one_file';

let styles: Promise<void> | undefined;

export async function desk(): Promise<typeof import('./desk')> {
  styles ??= inOneFile() ? Promise.resolve() : sheet('desk.css');
  const [screens] = await Promise.all([import('./desk'), styles]);
  return screens;
}

/** Resolves when the sheet holds; without it the screens are plain, but work. */
function sheet(href: string): Promise<void> {
  return new Promise((done) => {
    const link = Object.assign(document.createElement('link'), { rel: 'stylesheet', href, onload: () => done(), onerror: () => done() });
    document.head.append(link);
  });
}
