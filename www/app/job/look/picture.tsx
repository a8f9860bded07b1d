// A kept photo on the screen.
import { useEffect, useState } from 'preact/hooks';
import { lookWords as w } from '../../words/look';
import { photoById } from '../jobs';

/** The address of a kept photo while it is shown; `gone` where it is not kept here. */
export function usePhoto(id: string): string | 'gone' | undefined {
  const [address, setAddress] = useState<string>();
  useEffect(() => {
    let made: string | undefined;
    let here = true;
    void photoById(id).then((photo) => {
      if (!here) return;
      if (photo) made = URL.createObjectURL(new Blob([photo.data], { type: 'image/jpeg' }));
      setAddress(made ?? 'gone');
    });
    return () => {
      here = false;
      if (made) URL.revokeObjectURL(made);
    };
  }, [id]);
  return address;
}

export function Picture({ id, alt }: { id: string; alt: string }) {
  const address = usePhoto(id);
  if (address === 'gone') return <span class="note">{w.photoGone}</span>;
  return address ? <img class="photo" src={address} alt={alt} /> : <span class="photo waiting" />;
}
