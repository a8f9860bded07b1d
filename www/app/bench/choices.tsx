// Further ways to go on, a button each with what it is for.
import type { Choice } from '../core/types.gen';
import { Button } from '../ui/controls';
import { Rich } from '../ui/symbol';

/** `leads`: the first of them is the main button of the stub. */
export function Choices({ choices, onChoose, leads }: { choices: Choice[]; onChoose: (id: string) => void; leads?: boolean }) {
  return (
    <>
      {choices.map((choice, i) => (
        <div key={choice.id}>
          <Button kind={leads && i === 0 ? 'main' : 'quiet'} onPress={() => onChoose(choice.id)}>
            {choice.label}
          </Button>
          {choice.help && (
            <p class="note">
              <Rich text={choice.help} />
            </p>
          )}
        </div>
      ))}
    </>
  );
}
