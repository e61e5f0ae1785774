/** Makes one thing for one press: a button is busy until what it makes is made, and a double click is one press. */
export class Busy {
  now = $state(false);

  /** Does the work unless it is being done; for a press by hand, `event` tells the second half of a double click. */
  run(work: () => unknown, event?: UIEvent | SubmitEvent) {
    if (this.now || (event && 'detail' in event && event.detail > 1)) return;
    this.now = true;
    void (async () => {
      try {
        await work();
      } finally {
        this.now = false;
      }
    })();
  }
}
