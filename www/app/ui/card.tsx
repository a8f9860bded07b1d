// Page, card, perforation, stub, slip.
import type { ComponentChildren } from 'preact';
import { words } from '../words/common';
import { BackArrow, Sign } from './marks';
import { href } from './route';

export function Page({ kind, promise, children }: { kind: string; promise?: string; children: ComponentChildren }) {
  const skip = (event: Event) => {
    event.preventDefault();
    document.querySelector<HTMLElement>('main h1')?.focus();
  };
  return (
    <div class={`page ${kind}`}>
      <a class="skip" href="#main" onClick={skip}>
        {words.skip}
      </a>
      <header class="page-head">
        <a class="home" href={href('')}>
          <Sign />
          {words.name}
        </a>
        <p class="promise">
          <span class={promise ? '' : 'only-wide-block'}>{promise ?? words.promise}</span>
          {!promise && <span class="only-narrow-inline">{words.promiseShort}</span>}
        </p>
      </header>
      <main id="main">{children}</main>
    </div>
  );
}

/** Card at the left, stub at the right or below; without a stub the card takes the whole width. `whole`: no corner is cut. */
export function Sheet({ card, stub, live, stubLabel, whole }: { card: ComponentChildren; stub?: ComponentChildren; live?: boolean; stubLabel?: string; whole?: boolean }) {
  return (
    <div class={`sheet ${stub ? '' : 'whole'} ${live ? 'is-live' : ''}`}>
      <div class={`card ${whole ? '' : 'cut'}`}>{card}</div>
      {stub && (
        <div class={`tear ${live ? 'live' : ''}`}>
          <div class="perforation" aria-hidden="true" />
          <aside class={`stub ${live ? 'live' : ''}`} aria-label={stubLabel ?? words.stub}>
            {stub}
          </aside>
        </div>
      )}
    </div>
  );
}

export interface SlipBoxes {
  /** The practice bench, where it is that. */
  bench?: string;
  job?: string;
  /** None where the screen is about no part. */
  part?: string;
  /** None where the screen is about a whole job. */
  check?: string;
  take?: string;
}

export function Slip({ back, backLabel, boxes }: { back: string | (() => void); backLabel: string; boxes: SlipBoxes }) {
  const hole =
    typeof back === 'string' ? (
      <a class="back" href={back} aria-label={backLabel}>
        <BackArrow />
      </a>
    ) : (
      <button type="button" class="back" onClick={back} aria-label={backLabel}>
        <BackArrow />
      </button>
    );
  return (
    <div class="slip">
      <div class="hole">{hole}</div>
      <div class="boxes">
        {boxes.bench && <Box kind="job" label={words.slip.bench} value={boxes.bench} />}
        {boxes.job && <Box kind="job" label={words.slip.job} value={boxes.job} />}
        {boxes.part && <Box kind="part" label={words.slip.part} value={boxes.part} />}
        {boxes.check && <Box kind="check" label={boxes.part || boxes.job ? words.slip.check : words.slip.bench} value={boxes.check} />}
        {boxes.take && <Box kind="take" label={words.slip.take} value={boxes.take} />}
      </div>
    </div>
  );
}

function Box({ kind, label, value }: { kind: string; label: string; value: string }) {
  return (
    <div class={`box ${kind}`}>
      <span class="box-label">{label}</span>
      <span class="box-value">{value}</span>
    </div>
  );
}
