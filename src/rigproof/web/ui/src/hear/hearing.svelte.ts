/** What is heard and what is to be rendered: stays while another place is looked at. */
import { Refused, api, type RenderWish } from "../shared/api";
import { desk } from "../shared/desk.svelte";
import { tell } from "../shared/notices.svelte";
import type { Cable, Job, PassageSpan } from "../shared/types";
import { cableKeys, withoutIndices } from "./cables";
import { pairOf, underWay } from "./job_words";

export type Against = "nothing" | "cables" | "fix";

export interface SetClock {
  passages: readonly PassageSpan[];
  beats_per_bar: number;
  tempo_bpm: number;
}

class Hearing {
  section = $state("");
  fromBar = $state("");
  seconds = $state("10");
  probes = $state.raw<string[]>([]);
  against = $state<Against>("nothing");
  /** Cables that are pulled in the second render, by their ends. */
  pulled = $state.raw<string[]>([]);
  fixOf = $state.raw<{ finding: string; at: string } | null>(null);
  /** The render that is heard, and the one it is held against. */
  now = $state.raw<{ first: string; second: string | null } | null>(null);
  /** Renders that are to be heard as soon as they are done; what is heard now stays until then. */
  coming = $state.raw<{ first: string; second: string | null } | null>(null);
  /** The set on the clock as it stood at each revision that this page has seen. */
  clocks = $state.raw<Record<number, SetClock>>({});
  /** Whether the caution about hearing has been answered. */
  isWarned = $state(false);
  troubles = $state.raw<string[]>([]);
  isStarting = $state(false);

  wish(): RenderWish {
    const bar = Number.parseInt(this.fromBar, 10);
    const seconds = Number.parseFloat(this.seconds.replace(",", "."));
    return {
      ...(this.section === "" ? {} : { section: this.section }),
      ...(Number.isFinite(bar) ? { from_bar: bar } : {}),
      ...(Number.isFinite(seconds) ? { seconds } : {}),
      probes: [...this.probes],
    };
  }

  /** Start to render as wished, and, where something is to be held against it, that too. */
  async start(): Promise<void> {
    this.isStarting = true;
    this.troubles = [];
    const started: string[] = [];
    try {
      const wish = this.wish();
      const first = await this.begin(wish);
      started.push(first.id);
      let second: Job | null = null;
      if (this.against === "cables") {
        const cables: readonly Cable[] = desk.project?.patch?.cables ?? [];
        second = await this.begin({ ...wish, without: withoutIndices(cables, this.pulled) });
      } else if (this.against === "fix" && this.fixOf) {
        second = await this.begin({ ...wish, fix: this.fixOf });
      }
      this.coming = { first: first.id, second: second?.id ?? null };
    } catch (error) {
      if (!(error instanceof Refused) || error.status === 401) desk.fail(error);
      else {
        this.troubles = error.sentences;
        // Half of a pair is of no use to anybody.
        for (const id of started) await this.forget(id);
      }
    } finally {
      this.isStarting = false;
    }
    void this.readAll();
  }

  private async begin(wish: RenderWish): Promise<Job> {
    const job = await api.startRender(wish);
    desk.jobs = { ...desk.jobs, [job.id]: job };
    return job;
  }

  /** Stop a render that is not over, or forget one that is. */
  async forget(id: string): Promise<void> {
    try {
      await api.stopRender(id);
    } catch (error) {
      if (!(error instanceof Refused && error.status === 404)) desk.fail(error);
    }
    await desk.readJob(id);
  }

  /** Read all renders that the server still keeps. */
  async readAll(): Promise<void> {
    try {
      const { jobs } = await api.renders();
      desk.jobs = Object.fromEntries(jobs.map((job) => [job.id, job]));
      const { now } = this;
      if (now && [now.first, now.second].some((id) => id !== null && !(id in desk.jobs)))
        this.now = null;
      if (this.now === null) this.coming ??= underWay(jobs);
      this.settle();
    } catch (error) {
      desk.fail(error);
    }
  }

  /** Remember the set as it stands, for the renders that are made of it. */
  remember(): void {
    const { project, proof } = desk;
    if (!project || !proof || proof.revision !== project.revision) return;
    this.clocks = {
      ...this.clocks,
      [proof.revision]: {
        passages: proof.survey.timeline.passages,
        beats_per_bar: project.set?.beats_per_bar ?? 4,
        tempo_bpm: project.patch?.tempo_bpm ?? 120,
      },
    };
  }

  /** Look how far the coming ones are: take them when all are done, give them up when one will never be. */
  settle(): void {
    if (!this.coming) return;
    const ids = [this.coming.first, this.coming.second].filter((id) => id !== null);
    const stages = ids.map((id) => desk.jobs[id]?.stage ?? "cancelled");
    if (stages.every((stage) => stage === "done")) {
      this.now = this.coming;
      this.coming = null;
    } else if (stages.some((stage) => stage === "failed" || stage === "cancelled")) {
      const id = ids[stages.findIndex((stage) => stage === "failed" || stage === "cancelled")];
      tell(
        stages.includes("failed")
          ? `Render ${id} failed; why stands in the list.`
          : `Render ${id} was stopped.`,
        stages.includes("failed") ? "trouble" : "word",
      );
      this.coming = null;
    }
  }

  /** Take a render to be heard, with its second one where it has one. */
  take(id: string): void {
    this.now = pairOf(
      Object.values(desk.jobs).filter((job) => job.stage === "done"),
      id,
    );
  }

  /** Next time, hold the render against itself with a finding mended. */
  holdAgainstFix(finding: { finding: string; at: string }): void {
    this.against = "fix";
    this.fixOf = { finding: finding.finding, at: finding.at };
  }

  toggleCable(key: string): void {
    this.pulled = this.pulled.includes(key)
      ? this.pulled.filter((one) => one !== key)
      : [...this.pulled, key];
  }

  /** Keep of what was chosen only what the project still has. */
  tidy(): void {
    const keys = new Set(cableKeys(desk.project?.patch?.cables ?? []));
    if (this.pulled.some((key) => !keys.has(key)))
      this.pulled = this.pulled.filter((key) => keys.has(key));
    const sections = desk.project?.set?.sections ?? [];
    if (this.section !== "" && !sections.some((one) => one.id === this.section)) this.section = "";
  }
}

export const hearing = new Hearing();
