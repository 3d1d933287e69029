/** What every section kind takes, asked of the server once. */
import { api } from "../../shared/api";
import { desk } from "../../shared/desk.svelte";
import type { KindInfo } from "../../shared/types";

class Kinds {
  all = $state.raw<Record<string, KindInfo>>({});
  private isAsked = false;

  async read(): Promise<void> {
    if (this.isAsked) return;
    this.isAsked = true;
    try {
      const { kinds } = await api.kinds();
      this.all = Object.fromEntries(kinds.map((kind) => [kind.kind, kind]));
    } catch (error) {
      this.isAsked = false;
      desk.fail(error);
    }
  }
}

export const kinds = new Kinds();
