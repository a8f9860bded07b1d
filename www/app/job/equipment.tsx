// What is at hand: ticked once, kept with the bench.
import { startWords } from '../words/start';
import { ITEMS, type Item } from './offers';

const w = startWords.equipment;

export function Equipment({ items, onItems, legend }: { items: Item[]; onItems: (items: Item[]) => void; legend: string }) {
  const turn = (item: Item, on: boolean) => onItems(ITEMS.filter((i) => (i === item ? on : items.includes(i))));
  return (
    <fieldset class="several">
      <legend class="note">{legend}</legend>
      <div class="options">
        {ITEMS.map((item) => (
          <label key={item}>
            <input type="checkbox" checked={items.includes(item)} onChange={(event) => turn(item, event.currentTarget.checked)} />
            <span>{startWords.items[item].name}</span>
          </label>
        ))}
      </div>
      <p class="note">{items.length === 0 ? w.help : w.kept}</p>
    </fieldset>
  );
}
