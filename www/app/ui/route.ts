// Where the person is, kept in the address after the hash, so that back and forward work.
import { useEffect, useState } from 'preact/hooks';

export interface Route {
  name: string;
  /** Parts after the name, decoded. */
  parts: string[];
  query: URLSearchParams;
}

function read(): Route {
  const [path = '', query = ''] = location.hash.replace(/^#\/?/, '').split('?');
  const [name = '', ...parts] = path.split('/').map(decoded);
  return { name, parts, query: new URLSearchParams(query) };
}

/** As it stands where it is no text so coded: an address can be cut off anywhere. */
function decoded(part: string): string {
  try {
    return decodeURIComponent(part);
  } catch {
    return part;
  }
}

export function href(name: string, parts: string[] = [], query: Record<string, string> = {}): string {
  const tail = new URLSearchParams(query).toString();
  return '#/' + [name, ...parts].map(encodeURIComponent).join('/') + (tail ? `?${tail}` : '');
}

export function go(to: string, replace = false): void {
  if (replace) location.replace(to);
  else location.hash = to;
}

export function useRoute(): Route {
  const [route, setRoute] = useState(read);
  useEffect(() => {
    const changed = () => setRoute(read());
    window.addEventListener('hashchange', changed);
    return () => window.removeEventListener('hashchange', changed);
  }, []);
  return route;
}
