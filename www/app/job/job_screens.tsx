// Which screen of a job an address names: job/ID, job/ID/card, job/ID/part/PART, and the papers.
import type { Route } from '../ui/route';
import { CardScreen } from './card_screen';
import { JobScreen } from './job_screen';
import { isPaper, PapersScreen } from './papers/papers_screen';
import { PartScreen } from './part_screen';

export function JobScreens({ route }: { route: Route }) {
  const [id = '', what, part = ''] = route.parts;
  if (isPaper(what)) return <PapersScreen id={id} name={what} />;
  switch (what) {
    case 'card':
      return <CardScreen id={id} />;
    case 'part':
      return <PartScreen id={id} part={part} check={route.query.get('check')} />;
    default:
      return <JobScreen id={id} />;
  }
}
