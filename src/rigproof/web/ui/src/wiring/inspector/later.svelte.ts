/** A change that is shown at once and sent a little later, so that a burst of them is one step to undo. */

export class Later<T> {
  /** What is to be sent; null while there is nothing. */
  value = $state.raw<T | null>(null);
  private timer = 0;

  constructor(
    private readonly send: (value: T) => Promise<unknown>,
    private readonly wait_ms = 350,
  ) {}

  put(value: T): void {
    this.value = value;
    window.clearTimeout(this.timer);
    this.timer = window.setTimeout(() => void this.flush(), this.wait_ms);
  }

  /** Send now what is to be sent; it stays shown until that is done, or is replaced by something newer. */
  async flush(): Promise<void> {
    window.clearTimeout(this.timer);
    const sent = this.value;
    if (sent === null) return;
    await this.send(sent);
    if (this.value === sent) this.value = null;
  }

  /** Forget what was to be sent. */
  drop(): void {
    window.clearTimeout(this.timer);
    this.value = null;
  }
}
