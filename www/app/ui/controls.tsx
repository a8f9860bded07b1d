// Buttons, choices, entries, ticks.
import type { ComponentChildren } from 'preact';
import { useId } from 'preact/hooks';
import { words } from '../words/common';
import { type EntryFault } from './format';
import { StateMark } from './marks';

export interface ButtonProps {
  children: ComponentChildren;
  onPress?: () => void;
  kind?: 'main' | 'plain' | 'quiet';
  /** Why it cannot be pressed yet; shown instead of doing nothing in silence. */
  notYet?: string;
  href?: string;
  download?: string;
}

export function Button({ children, onPress, kind = 'plain', notYet, href, download }: ButtonProps) {
  if (href !== undefined) {
    return (
      <a class={`button ${kind}`} href={href} download={download}>
        {children}
      </a>
    );
  }
  return (
    <button type="button" class={`button ${kind}`} aria-disabled={notYet ? 'true' : undefined} onClick={() => !notYet && onPress?.()}>
      {notYet ?? children}
    </button>
  );
}

export function StopButton({ stopped, onPress }: { stopped?: boolean; onPress: () => void }) {
  return (
    <button type="button" class={`button stop ${stopped ? 'stopped' : ''}`} onClick={onPress} id={stopped ? undefined : 'stop'}>
      {stopped ? words.stopped : words.stop}
    </button>
  );
}

export interface Option {
  id: string;
  label: string;
}

export function Choice({ legend, options, value, onChange, stacked, help }: { legend: string; options: Option[]; value: string; onChange: (id: string) => void; stacked?: boolean; help?: string }) {
  const name = useId();
  return (
    <fieldset class={`choice ${stacked ? 'stacked' : ''}`}>
      <legend>{legend}</legend>
      <div class="options">
        {options.map((option) => (
          <label key={option.id}>
            <input type="radio" name={name} value={option.id} checked={option.id === value} onChange={() => onChange(option.id)} />
            <span>{option.label}</span>
          </label>
        ))}
      </div>
      {help && <p class="note">{help}</p>}
    </fieldset>
  );
}

export function Entry({ label, unit, text, onText, fault, help, id }: { label: string; unit?: string; text: string; onText: (text: string) => void; fault?: string; help?: string; id?: string }) {
  const own = useId();
  const field = id ?? own;
  return (
    <div class="field">
      <label for={field}>
        {label}
        {unit ? <span class="unheard">, {unit}</span> : null}
      </label>
      <div class={`entry-box ${fault ? 'faulty' : ''}`}>
        <input
          id={field}
          type="text"
          inputMode="decimal"
          autocomplete="off"
          value={text}
          aria-invalid={fault ? 'true' : undefined}
          aria-describedby={`${field}-help`}
          onInput={(event) => onText(event.currentTarget.value)}
        />
        {unit && (
          <span class="unit" aria-hidden="true">
            {unit}
          </span>
        )}
      </div>
      <div id={`${field}-help`}>{fault ? <Fault text={fault} /> : help && <p class="note">{help}</p>}</div>
    </div>
  );
}

export function TextEntry({ label, text, onText, help, day }: { label: string; text: string; onText: (text: string) => void; help?: string; day?: boolean }) {
  const field = useId();
  return (
    <div class="field">
      <label for={field}>{label}</label>
      <div class="entry-box plain">
        <input id={field} type={day ? 'date' : 'text'} autocomplete="off" value={text} onInput={(event) => onText(event.currentTarget.value)} />
      </div>
      {help && <p class="note">{help}</p>}
    </div>
  );
}

/** A text of several lines. */
export function LinesEntry({ label, text, onText, help }: { label: string; text: string; onText: (text: string) => void; help?: string }) {
  const field = useId();
  return (
    <div class="field">
      <label for={field}>{label}</label>
      <div class="entry-box plain">
        <textarea id={field} rows={3} value={text} onInput={(event) => onText(event.currentTarget.value)} />
      </div>
      {help && <p class="note">{help}</p>}
    </div>
  );
}

export function Select({ label, options, value, onChange, help }: { label: string; options: Option[]; value: string; onChange: (id: string) => void; help?: string }) {
  const field = useId();
  return (
    <div class="field">
      <label for={field}>{label}</label>
      <select id={field} class="select" value={value} onChange={(event) => onChange(event.currentTarget.value)}>
        {options.map((option) => (
          <option key={option.id} value={option.id} selected={option.id === value}>
            {option.label}
          </option>
        ))}
      </select>
      {help && <p class="note">{help}</p>}
    </div>
  );
}

export function Fault({ text }: { text: string }) {
  return (
    <p class="fault" role="alert">
      <StateMark name="caution" size={18} />
      <span>{text}</span>
    </p>
  );
}

/** Words for a faulty entry. `low` and `high` are in the unit shown. */
export function faultWords(fault: EntryFault, low?: string, high?: string): string {
  return words.entry[fault].replace('{low}', low ?? '').replace('{high}', high ?? '');
}

export function Progress({ done, label }: { done: number; label: ComponentChildren }) {
  const share = Math.max(0, Math.min(1, done));
  return (
    <div class="progress">
      <div>{label}</div>
      <div class="bar" role="progressbar" aria-valuemin={0} aria-valuemax={100} aria-valuenow={Math.round(share * 100)} aria-label={words.progress}>
        <i style={{ width: `${share * 100}%` }} />
      </div>
    </div>
  );
}
