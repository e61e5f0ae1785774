/** Whether a picture is mostly pale, as a drawing on paper is and a photograph from above is not. */
const SIDE_PX = 48;
/** Mean brightness of paper with lines on it is above this, of grass and roofs below; 0 to 255. */
const PAPER = 190;

export function isPale(picture: HTMLImageElement): boolean {
  const canvas = document.createElement('canvas');
  [canvas.width, canvas.height] = [SIDE_PX, SIDE_PX];
  const context = canvas.getContext('2d', { willReadFrequently: true });
  if (!context) return false;
  // What is transparent shows paper.
  context.fillStyle = '#fff';
  context.fillRect(0, 0, SIDE_PX, SIDE_PX);
  context.drawImage(picture, 0, 0, SIDE_PX, SIDE_PX);
  const { data } = context.getImageData(0, 0, SIDE_PX, SIDE_PX);
  let sum = 0;
  for (let i = 0; i < data.length; i += 4)
    sum += 0.2126 * data[i]! + 0.7152 * data[i + 1]! + 0.0722 * data[i + 2]!;
  return sum / (SIDE_PX * SIDE_PX) > PAPER;
}
