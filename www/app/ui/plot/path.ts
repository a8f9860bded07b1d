// Paths through numbered points, for the `d` of an SVG path. Points that are not shown part a path.

type Place = (i: number) => number;
type Shown = (i: number) => boolean;

function runs(index: number[], shown: Shown): number[][] {
  const out: number[][] = [];
  let open: number[] | undefined;
  for (const i of index) {
    if (!shown(i)) open = undefined;
    else if (open) open.push(i);
    else out.push((open = [i]));
  }
  return out;
}

const through = (run: number[], x: Place, y: Place) => run.map((i) => `${x(i).toFixed(2)},${y(i).toFixed(2)}`).join('L');

/** A line through the points; one alone closes on itself, so that its round ends are seen. */
export function linePath(index: number[], shown: Shown, x: Place, y: Place): string {
  return runs(index, shown)
    .map((run) => `M${through(run, x, y)}${run.length === 1 ? 'Z' : ''}`)
    .join('');
}

/** The area between two lines. */
export function areaPath(index: number[], shown: Shown, x: Place, low: Place, high: Place): string {
  return runs(index, shown)
    .map((run) => `M${through(run, x, high)}L${through([...run].reverse(), x, low)}Z`)
    .join('');
}
