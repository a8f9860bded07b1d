// A photo as it is kept: at most 1600 px on its longer side, as JPEG, without what the camera wrote beside it.
import { keepPhoto } from '../jobs';

const LONGEST_PX = 1600;
const QUALITY = 0.82;

/** Keeps the picture of a file; answers its id. Fails where the browser cannot read it. */
export async function takeIn(file: Blob): Promise<string> {
  // Turned upright as the camera says, since the kept copy does not say it any more.
  const picture = await createImageBitmap(file, { imageOrientation: 'from-image' });
  try {
    const scale = Math.min(1, LONGEST_PX / Math.max(picture.width, picture.height));
    const canvas = document.createElement('canvas');
    canvas.width = Math.max(1, Math.round(picture.width * scale));
    canvas.height = Math.max(1, Math.round(picture.height * scale));
    const pen = canvas.getContext('2d');
    if (!pen) throw new Error('no canvas');
    // JPEG has no transparency: what would be clear becomes paper, not black.
    pen.fillStyle = '#ffffff';
    pen.fillRect(0, 0, canvas.width, canvas.height);
    pen.drawImage(picture, 0, 0, canvas.width, canvas.height);
    const jpeg = await new Promise<Blob | null>((done) => canvas.toBlob(done, 'image/jpeg', QUALITY));
    if (!jpeg) throw new Error('no JPEG');
    return await keepPhoto(await jpeg.arrayBuffer(), canvas.width, canvas.height);
  } finally {
    picture.close();
  }
}
