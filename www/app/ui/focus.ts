// Title of the window and focus: a new screen begins at its heading.
import { useEffect, useRef } from 'preact/hooks';
import { words } from '../words/common';

/** Sets the title and, except at the first load, puts the focus on the heading. */
export function useTitle<T extends HTMLElement>(title: string, focus = true): preact.RefObject<T> {
  const place = useRef<T>(null);
  useEffect(() => {
    document.title = `${title} · ${words.name}`;
  }, [title]);
  useEffect(() => {
    if (!focus) return;
    window.scrollTo(0, 0);
    place.current?.focus({ preventScroll: true });
  }, []);
  return place;
}
