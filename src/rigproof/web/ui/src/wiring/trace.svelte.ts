/** The trace that is shown: set by the trace's panel, drawn by the diagram. */
import type { Trace } from "../shared/types";

class Traced {
  trace = $state.raw<Trace | null>(null);
}

export const traced = new Traced();
