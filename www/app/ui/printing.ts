// Whether the page is being printed: folded parts then open, as paper has no buttons.
import { useEffect, useState } from 'preact/hooks';

export function usePrinting(): boolean {
  const [printing, set] = useState(false);
  useEffect(() => {
    const query = window.matchMedia('print');
    const changed = () => set(query.matches);
    const before = () => set(true);
    const after = () => set(false);
    query.addEventListener('change', changed);
    window.addEventListener('beforeprint', before);
    window.addEventListener('afterprint', after);
    return () => {
      query.removeEventListener('change', changed);
      window.removeEventListener('beforeprint', before);
      window.removeEventListener('afterprint', after);
    };
  }, []);
  return printing;
}
