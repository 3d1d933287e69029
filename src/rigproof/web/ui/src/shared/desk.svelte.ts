/** What every place works with: the project as the server last told it, its proof, and the ways to change it. */
import { tick } from "svelte";
import { Away, Refused, api, listen } from "./api";
import { ask as askPerformer } from "./asking.svelte";
import { go, keyInAddress } from "./route.svelte";
import { tell } from "./notices.svelte";
import { namesIn } from "./sentence";
import { stillChosen } from "./still_chosen";
import type {
  Changed,
  Edit,
  Finding,
  Happening,
  Job,
  Project,
  Proof,
  Readings,
  SheetForm,
} from "./types";
import { afterLead } from "./words";

export type Chosen =
  | { sort: "module"; name: string }
  | { sort: "jack"; name: string }
  | { sort: "control"; name: string }
  | { sort: "cable"; index: number }
  | { sort: "finding"; finding: string; at: string }
  | null;

export type Door = "opening" | "open" | "locked";

const client = `page-${crypto.randomUUID()}`;

/** What the files say, to be compared. */
function contentOf(project: Project | null): string {
  return JSON.stringify([project?.rig, project?.patch, project?.set, project?.errors]);
}

/** Return the refusal of a change that has met another one; throws any other error again. */
function whatWasMet(error: unknown): Refused {
  if (error instanceof Refused && error.code === "changed-meanwhile") return error;
  throw error;
}

/** What others have changed meanwhile, a line each. */
function theirWords(met: Refused): string[] {
  const theirs = (met.more.theirs ?? []) as { by: string; words: string }[];
  return theirs.map((one) =>
    one.by === "disk" ? afterLead("On the disk", one.words) : `In another window: ${one.words}`,
  );
}

class Desk {
  door = $state<Door>("opening");
  /** False while the server does not answer; what is on the page then stays, and nothing can be changed. */
  isThere = $state(true);
  project = $state.raw<Project | null>(null);
  /** Null until it has been computed once; stays the older one, marked by its revision, while it is computed anew. */
  proof = $state.raw<Proof | null>(null);
  readings = $state.raw<Readings | null>(null);
  jobs = $state.raw<Record<string, Job>>({});
  chosen = $state.raw<Chosen>(null);
  /** Edits under way. */
  busy = $state(0);

  private reading: Promise<void> | null = null;
  private isStale = false;
  private wantsSheets = false;
  private readonly changing = new Set<Promise<boolean>>();
  private isProving = false;
  private readingsAsked: Promise<void> = Promise.resolve();
  private stopListening: (() => void) | null = null;

  /** Whether the readings belong to what the page shows. */
  isRead = $derived(this.readings !== null && this.readings.revision === this.project?.revision);
  /** Whether the findings do, too. */
  isProved = $derived(this.proof !== null && this.proof.revision === this.project?.revision);
  isEmpty = $derived(this.project?.empty === true);
  /** Names of the rig, which stay as they are where a sentence begins with one. */
  names = $derived(namesIn(this.project));

  /** Come in, by the token behind the `#` where there is one, and begin to follow the project. */
  async open(): Promise<void> {
    const token = keyInAddress();
    if (token !== null) {
      history.replaceState(null, "", location.pathname);
      try {
        await api.enter(token);
      } catch (error) {
        if (!(error instanceof Refused)) throw error;
      }
    }
    await this.read(true);
    this.stopListening ??= listen(
      (happening) => this.hear(happening),
      (isThere) => this.setThere(isThere),
    );
  }

  close(): void {
    this.stopListening?.();
    this.stopListening = null;
  }

  /**
   * Read the project again, and then its proof. Calls that come meanwhile are answered by one more reading; each is
   * over when the page shows what was so when it was called, or something newer.
   */
  read(sheets = true): Promise<void> {
    this.isStale = true;
    this.wantsSheets ||= sheets;
    this.reading ??= this.readUntilFresh().finally(() => (this.reading = null));
    return this.reading;
  }

  private async readUntilFresh(): Promise<void> {
    try {
      while (this.isStale) {
        const sheets = this.wantsSheets || this.needsSheets();
        this.isStale = this.wantsSheets = false;
        const seen = await api.project(sheets);
        if (!sheets && this.project && !seen.empty) {
          seen.sheets = this.project.sheets;
          if (this.lacksSheet(seen)) Object.assign(seen, await api.project(true));
        }
        this.chosen = stillChosen(
          this.chosen,
          this.project?.patch?.cables ?? [],
          seen.patch?.cables ?? [],
        );
        this.project = seen;
        this.door = "open";
        this.isThere = true;
        void this.prove();
      }
    } catch (error) {
      this.fail(error);
    }
  }

  /** Wait for the readings that are under way: a person looks at them, what can come later comes later. */
  readingsIn(): Promise<void> {
    return this.readingsAsked;
  }

  /** Wait until no edit is under way and the page shows what the last one has made. */
  async settled(): Promise<void> {
    while (this.changing.size > 0) await Promise.allSettled(this.changing);
    await tick();
  }

  private needsSheets(): boolean {
    return this.project === null || this.project.empty === true;
  }

  private lacksSheet(project: Project): boolean {
    const things = [...(project.rig?.modules ?? []), ...(project.rig?.outside ?? [])];
    return things.some((thing) => !(thing.sheet in project.sheets));
  }

  /** Fetch findings and readings of the project as it stands. */
  async prove(): Promise<void> {
    if (this.isProving) return;
    this.isProving = true;
    try {
      while (this.project && !this.project.empty && this.project.errors.length === 0) {
        const readings = api.readings(); // first: they are looked at while the findings are sought
        this.readingsAsked = readings.then(
          () => undefined,
          () => undefined,
        );
        this.readings = await readings;
        if (this.readings.revision < this.project.revision) continue;
        this.proof = await api.proof();
        if (this.proof.revision >= this.project.revision) break;
      }
      if (this.project && (this.project.empty || this.project.errors.length > 0)) {
        this.proof = null;
        this.readings = null;
      }
    } catch (error) {
      if (!(error instanceof Refused && error.status === 409)) this.fail(error);
    } finally {
      this.isProving = false;
    }
  }

  /** Make edits, all or none. Returns whether they were made; if not, the performer has been told why. */
  edit(...edits: Edit[]): Promise<boolean> {
    return this.change(() =>
      this.askedWhereMet(this.project?.revision ?? 0, (revision, keepMine) =>
        api.edit(client, revision, edits, keepMine),
      ),
    );
  }

  /** Change one of the project's own sheets by a form that was opened at a revision. */
  changeSheet(form: SheetForm, since: number): Promise<boolean> {
    return this.change(() =>
      this.askedWhereMet(since, (revision, keepMine) =>
        api.changeSheet(client, revision, form, keepMine),
      ),
    );
  }

  /** Where somebody else has changed the same meanwhile, ask the performer which of the two is to stay. */
  private async askedWhereMet(
    revision: number,
    make: (revision: number, keepMine: boolean) => Promise<Changed>,
  ): Promise<Changed | null> {
    try {
      return await make(revision, false);
    } catch (error) {
      const met = whatWasMet(error);
      const keepMine = await askPerformer({
        title: "Changed meanwhile",
        text: met.message,
        details: theirWords(met),
        yes: "Keep mine",
        no: "Keep theirs",
      });
      if (keepMine) return await make(Number(met.more.revision), true);
      await this.read();
      return null;
    }
  }

  /**
   * Do what a finding's fix says. Where somebody else has changed the same meanwhile, or the fix would do something
   * else by now, the performer is asked; a yes holds for what was shown, so that a newer change is asked about anew.
   */
  async applyFix(finding: Finding): Promise<boolean> {
    return this.change(async () => {
      let revision = this.project?.revision ?? 0;
      let seen = finding.fix?.words ?? "";
      for (;;) {
        try {
          return await api.fix(client, revision, finding.finding, finding.at, seen);
        } catch (error) {
          const met = whatWasMet(error);
          revision = Number(met.more.revision);
          seen = String(met.more.fix);
          const isWanted = await askPerformer({
            title: "Changed meanwhile",
            text: "Something was changed since this fix was shown. Is the fix still to be applied?",
            details: [...theirWords(met), `The fix, as it is now: ${seen}`],
            yes: "Apply the fix",
            no: "Keep theirs",
          });
          if (isWanted) continue;
          await this.read();
          return null;
        }
      }
    });
  }

  async undo(): Promise<boolean> {
    return this.change(() => api.undo(client, this.project?.revision ?? 0), "Undone");
  }

  async redo(): Promise<boolean> {
    return this.change(() => api.redo(client, this.project?.revision ?? 0), "Done again");
  }

  /** Do something that changes the project, and read it again. `make` answers null where nothing was changed. */
  change(make: () => Promise<Changed | null>, says = ""): Promise<boolean> {
    const change = this.made(make, says).finally(() => this.changing.delete(change));
    this.changing.add(change);
    return change;
  }

  private async made(make: () => Promise<Changed | null>, says: string): Promise<boolean> {
    this.busy += 1;
    try {
      const changed = await this.madeOnWhatIsShown(make);
      if (changed === null) return false;
      if (says !== "") tell(afterLead(says, changed.words));
      await this.read(changed.files.some((file) => file.startsWith("modules/")));
      return true;
    } catch (error) {
      if (error instanceof Refused && error.code === "out-of-date") {
        tell("The project has changed meanwhile; look again, then repeat it.", "trouble");
      } else {
        this.fail(error);
      }
      return false;
    } finally {
      this.busy -= 1;
    }
  }

  /** Make a change, once more where the server has merely lost count and the project is what the page shows. */
  private async madeOnWhatIsShown(make: () => Promise<Changed | null>): Promise<Changed | null> {
    const shown = contentOf(this.project);
    try {
      return await make();
    } catch (error) {
      if (!(error instanceof Refused && error.code === "out-of-date")) throw error;
      await this.read();
      if (contentOf(this.project) !== shown) throw error;
      return await make();
    }
  }

  /** Tell the performer of something that did not work. */
  fail(error: unknown): void {
    if (error instanceof Away) this.setThere(false);
    else if (error instanceof Refused && error.status === 401) this.door = "locked";
    else if (error instanceof Refused) tell(error.sentences.join("\n"), "trouble");
    else throw error;
  }

  choose(chosen: Chosen): void {
    this.chosen = chosen;
  }

  /** Show something at its place. */
  jump(chosen: Chosen, place: string): void {
    this.chosen = chosen;
    go(place);
  }

  get client(): string {
    return client;
  }

  private hear(happening: Happening): void {
    switch (happening.event) {
      case "hello":
        if (happening.revision !== this.project?.revision) void this.read();
        break;
      case "changed":
        if (happening.by !== client) {
          void this.read(happening.files.some((file) => file.startsWith("modules/")));
          tell(
            happening.by === "disk"
              ? afterLead("Changed on the disk", happening.words)
              : `Changed in another window: ${happening.words}`,
          );
        }
        break;
      case "job": {
        void this.readJob(happening.id);
        break;
      }
    }
  }

  async readJob(id: string): Promise<void> {
    try {
      const job = await api.render(id);
      this.jobs = { ...this.jobs, [id]: job };
    } catch (error) {
      if (error instanceof Refused && error.status === 404) {
        const rest = { ...this.jobs };
        delete rest[id];
        this.jobs = rest;
      } else this.fail(error);
    }
  }

  private setThere(isThere: boolean): void {
    // A server that is back may have been started anew and count from nothing: it is there once it has been read.
    if (!isThere) this.isThere = false;
    else if (!this.isThere) void this.read();
  }
}

export const desk = new Desk();
