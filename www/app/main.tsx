// Entry of the page.
import { render } from 'preact';
import { useEffect, useState } from 'preact/hooks';
import { core } from './core/client';
import { watchForUpdate } from './update';

function Page() {
  const [version, setVersion] = useState('');
  useEffect(() => {
    core.version().then(setVersion, (error: Error) => setVersion(error.message));
  }, []);
  return (
    <main>
      <h1>Conewright</h1>
      <p id="version">{version}</p>
    </main>
  );
}

const place = document.getElementById('page');
if (place) render(<Page />, place);
watchForUpdate(() => undefined);
