/** How much larger than usual everything is drawn: the type's size on this screen, over 16 px. */
class Scale {
  /** 1 on a laptop; larger on a 4K screen, or where the browser's own type is set larger. */
  of = $state(1);

  constructor() {
    this.read();
    addEventListener('resize', () => this.read());
  }

  read() {
    const px = Number.parseFloat(getComputedStyle(document.documentElement).fontSize);
    this.of = Number.isFinite(px) && px > 0 ? px / 16 : 1;
  }
}

export const scale = new Scale();
