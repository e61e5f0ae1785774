/** Questions one at a time: what is wanted while an answer is awaited is asked once that is here, as it then is. */
export class Turns {
  #asked = 0;
  #answered = 0;
  #asked_ms = 0;
  #more = false;
  #queued = false;

  /**
   * `ask` puts the question as things are and returns its number, or `null` when it cannot be put. An answer that has not
   * come after `patience_ms` is awaited no longer.
   */
  constructor(
    readonly ask: () => number | null,
    readonly patience_ms: number,
  ) {}

  /** Something has changed. */
  want() {
    if (this.#queued) return;
    if (this.#answered < this.#asked && performance.now() - this.#asked_ms < this.patience_ms) {
      this.#more = true;
      return;
    }
    this.#queued = true;
    // What one event changes in several steps is one question.
    queueMicrotask(() => {
      this.#queued = false;
      this.#ask();
    });
  }

  /** A question is answered or refused, and all before it. */
  answered(request: number) {
    this.#answered = Math.max(this.#answered, request);
    if (this.#more && this.#answered >= this.#asked) this.#ask();
  }

  /** No answer is to come any more. */
  forget() {
    this.#answered = this.#asked;
    this.#more = false;
  }

  #ask() {
    this.#more = false;
    const request = this.ask();
    if (request === null) return;
    this.#asked = request;
    this.#asked_ms = performance.now();
  }
}
