// Another name for the part of a kept reading, typed where the old one stands.
import { useEffect, useRef, useState } from 'preact/hooks';
import { TextEntry } from '../ui/controls';
import { startWords } from '../words/start';

const w = startWords.kept.rename;

export function PartName({ name, onName, onLeave }: { name: string; onName: (name: string) => void; onLeave: () => void }) {
  const [text, setText] = useState(name);
  const form = useRef<HTMLFormElement>(null);
  useEffect(() => form.current?.querySelector('input')?.select(), []);
  const keep = (event: Event) => {
    event.preventDefault();
    const wanted = text.trim();
    if (wanted === '' || wanted === name) onLeave();
    else onName(wanted);
  };
  return (
    <form class="part-name" ref={form} onSubmit={keep} onKeyDown={(event) => event.key === 'Escape' && onLeave()}>
      <TextEntry label={w.label} text={text} onText={setText} />
      <button type="submit" class="text-button">
        {w.keep}
      </button>
    </form>
  );
}
