/** The layout engine, in a worker of its own that is begun once and stays. */
import ELK, { type ELK as Elk } from "elkjs/lib/elk-api";
import workerUrl from "elkjs/lib/elk-worker.min.js?url";

let engine: Elk | null = null;

/** Return the engine; the first call begins its worker, so call it before it is needed. */
export function layoutEngine(): Elk {
  engine ??= new ELK({ workerUrl, workerFactory: (url) => new Worker(url ?? workerUrl) });
  return engine;
}
