// What an address names is not kept here: said, with the way to the start.
import { Page, Sheet } from '../ui/card';
import { Button } from '../ui/controls';
import { useTitle } from '../ui/focus';
import { href } from '../ui/route';
import { readingWords } from '../words/reading';

export function NotThere({ title, help }: { title: string; help: string }) {
  const heading = useTitle<HTMLHeadingElement>(title);
  return (
    <Page kind="check">
      <Sheet
        card={
          <div class="card-body">
            <h1 ref={heading} tabIndex={-1}>
              {title}
            </h1>
            <p>{help}</p>
            <Button kind="main" href={href('')}>
              {readingWords.start}
            </Button>
          </div>
        }
      />
    </Page>
  );
}
