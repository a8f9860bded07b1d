// A screen that is fetched when it is opened for the first time.
import type { ComponentType } from 'preact';
import { useEffect, useState } from 'preact/hooks';

export function lazy<P extends object>(load: () => Promise<ComponentType<P>>): ComponentType<P> {
  let Loaded: ComponentType<P> | undefined;
  return function Lazy(props: P) {
    const [, setState] = useState(0);
    useEffect(() => {
      if (Loaded) return;
      load().then(
        (component) => {
          Loaded = component;
          setState(1);
        },
        // Thrown where the guard around the screens sees it.
        (error: unknown) =>
          setState(() => {
            throw error;
          }),
      );
    }, []);
    return Loaded ? <Loaded {...props} /> : null;
  };
}
