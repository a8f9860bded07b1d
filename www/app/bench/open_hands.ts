// The hands of the check that is open now. They live outside the screens, so that a screen can come and go.
import type { Hands } from './hands';

let open: Hands | undefined;

export function takeUp(hands: Hands): void {
  putDown();
  open = hands;
}

export function putDown(): void {
  open?.stop();
  open?.close();
  open = undefined;
}
