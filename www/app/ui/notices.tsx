// Outcome, cautions and warnings: what is, then what to do.
import type { Caution, Notice, Outcome } from '../core/types.gen';
import { words } from '../words/common';
import { numberRow } from '../words/numbers';
import { StateMark } from './marks';
import { Rich } from './symbol';

export function OutcomeView({ outcome, reason }: { outcome: Outcome; reason: string }) {
  return (
    <div class="outcome">
      <div class="word">
        <StateMark name={outcome} size={28} />
        <span>{words.outcome[outcome]}</span>
      </div>
      <p>{reason}</p>
    </div>
  );
}

export function Notices({ notices }: { notices: Notice[] }) {
  if (notices.length === 0) return null;
  return (
    <div class="notices">
      {notices.map((notice, i) => (
        <div class="notice" key={i}>
          <StateMark name="caution" size={36} />
          <div>
            <h2>
              {words.caution}: <Rich text={lowerFirst(firstSentence(notice.message)[0])} />
            </h2>
            {firstSentence(notice.message)[1] && (
              <p>
                <Rich text={firstSentence(notice.message)[1]} />
              </p>
            )}
            <p class="do">
              <Rich text={notice.remedy} />
            </p>
            <NumbersLine notice={notice} />
          </div>
        </div>
      ))}
    </div>
  );
}

function NumbersLine({ notice }: { notice: Notice }) {
  const rows = Object.entries(notice.numbers).map(([name, value]) => numberRow(name, value ?? NaN));
  if (rows.length === 0) return null;
  return (
    <p class="numbers">
      <Rich text={rows.map((row) => `${row.label}: ${row.value}`).join('; ')} />
    </p>
  );
}

/** The first sentence is said large, the others small. */
export function firstSentence(text: string): [string, string] {
  const end = text.search(/[.;] [A-Z]/);
  return end < 0 ? [text, ''] : [text.slice(0, end + 1), text.slice(end + 2)];
}

/** A sentence set behind a colon begins small, unless it begins with a symbol such as Q or DC. */
export function lowerFirst(text: string): string {
  return /^[A-Z][a-z ]/.test(text) && !/^I /.test(text) ? text.charAt(0).toLowerCase() + text.slice(1) : text;
}

export function NumbersList({ notice }: { notice: Notice }) {
  const rows = Object.entries(notice.numbers).map(([name, value]) => numberRow(name, value ?? NaN));
  if (rows.length === 0) return null;
  return (
    <dl class={`numbers-list ${rows.length > 1 ? 'pairs' : ''}`}>
      {rows.map((row) => (
        <div key={row.label}>
          <dt>
            <Rich text={row.label} />
          </dt>
          <dd>{row.value}</dd>
        </div>
      ))}
    </dl>
  );
}

export function Cautions({ cautions }: { cautions: Caution[] }) {
  if (cautions.length === 0) return null;
  return (
    <ul class="cautions" aria-label={words.cautions}>
      {cautions.map((caution) => (
        <li key={caution.id}>
          <StateMark name="caution" size={24} />
          <div>
            <strong>{caution.title}</strong> {caution.text}
          </div>
        </li>
      ))}
    </ul>
  );
}

/** One thing a sentence: the remedy as numbered steps. */
export function remedySteps(remedy: string): string[] {
  return remedy
    .split(/(?<=[.;])\s+(?=[A-Z])/)
    .map((step) => step.trim())
    .filter(Boolean);
}
