// Whether an input turns signals upside down: learnt once by a cell or a known driver, kept with the device.
import type { Reading } from '../../core/types.gen';
import { loadBench, saveBench, type MyBench } from '../../job/keeping';

/** By push only: with a pulse the way over output, amplifier and microphone may be another tomorrow. */
export const knownSign = (bench: MyBench, inputLabel: string, method: 'push' | 'pulse'): boolean | null => (method === 'push' ? (bench.inputInverts?.[inputLabel] ?? null) : null);

/** The bench without the sign of one input: the next push learns it anew. */
export function forgetSign(bench: MyBench, inputLabel: string): Partial<MyBench> {
  return { inputInverts: Object.fromEntries(Object.entries(bench.inputInverts ?? {}).filter(([input]) => input !== inputLabel)) };
}

export async function rememberInput(inputLabel: string, { check, chosen, computed_with }: Reading): Promise<void> {
  const sign = chosen['input'];
  if (check !== 'polarity' || !computed_with.method.includes('push') || !inputLabel || (sign !== 'upright' && sign !== 'inverts')) return;
  const bench = await loadBench();
  await saveBench({ ...bench, inputInverts: { ...bench.inputInverts, [inputLabel]: sign === 'inverts' } });
}
