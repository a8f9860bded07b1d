// A reading as a link, copied to the clipboard; where the browser does not allow that, it stands in a field.
import { useEffect, useId, useRef, useState } from 'preact/hooks';
import type { KeptReading } from '../job/keeping';
import { href } from '../ui/route';
import { moveWords } from '../words/move';
import { LINK_MOST, packReading } from './shared_link';

const w = moveWords.share;

/** Made as soon as it is shown. */
export function Share({ kept }: { kept: KeptReading }) {
  const [link, setLink] = useState('');
  const [copied, setCopied] = useState<boolean>();
  const field = useRef<HTMLInputElement>(null);
  const id = useId();
  useEffect(() => {
    void (async () => {
      const made = location.href.replace(/#.*$/, '') + href('shared', [await packReading(kept)]);
      setLink(made);
      setCopied(await navigator.clipboard.writeText(made).then(() => true, () => false));
    })();
  }, [kept.id]);
  useEffect(() => {
    if (copied === false) field.current?.select();
  }, [copied]);
  if (copied === undefined) return null;
  const length = w.signs(link.length);
  return (
    <div class="shared-link">
      <p class="note" role="status">
        {copied && w.copied(length)} {link.length > LINK_MOST && w.tooLong(length)}
      </p>
      <div class="field">
        <label for={id}>{copied ? w.theLink : w.byHand}</label>
        <div class="entry-box plain">
          <input id={id} ref={field} type="text" readOnly value={link} onFocus={(event) => event.currentTarget.select()} />
        </div>
      </div>
    </div>
  );
}
