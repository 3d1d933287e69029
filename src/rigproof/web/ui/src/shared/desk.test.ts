import { afterEach, expect, it, vi } from "vitest";
import { Refused } from "./api";
import { desk } from "./desk.svelte";
import { asking } from "./asking.svelte";
import type { Finding, Patch, Project } from "./types";

const PROJECT: Project = {
  revision: 0,
  folder: "bench",
  files: [],
  errors: [],
  undo: null,
  redo: null,
  rig: null,
  patch: null,
  set: null,
  insides: [],
  sheets: {},
  controls: {},
};

/** A server whose answers come when they are told to, so that the order of things can be chosen. */
class SlowServer {
  revision = 0;
  patch: unknown = null;
  asked: string[] = [];
  private waiting: { path: string; answer: () => void }[] = [];

  fetch = (path: string): Promise<Response> => {
    this.asked.push(path);
    return new Promise((resolve) => {
      const revision = this.revision; // what was so when it was asked
      const data = path.startsWith("/api/project")
        ? { ...PROJECT, revision, patch: this.patch }
        : path === "/api/edits"
          ? { revision: (this.revision = revision + 1), words: "set it", files: ["a.patch.toml"] }
          : { revision, findings: [], counts: {}, jacks: {} };
      this.waiting.push({ path, answer: () => resolve(new Response(JSON.stringify(data))) });
    });
  };

  /** Answer the oldest question with this beginning, as soon as it is asked. */
  async answer(beginning: string): Promise<void> {
    await vi.waitFor(() =>
      expect(this.waiting.some((one) => one.path.startsWith(beginning))).toBe(true),
    );
    const at = this.waiting.findIndex((one) => one.path.startsWith(beginning));
    this.waiting.splice(at, 1)[0]?.answer();
  }
}

function serve(): SlowServer {
  const server = new SlowServer();
  vi.stubGlobal("fetch", server.fetch);
  return server;
}

afterEach(() => {
  vi.unstubAllGlobals();
  desk.project = desk.proof = desk.readings = null;
});

it("an edit is over only when the page shows it, even while an older reading is under way", async () => {
  const server = serve();
  const first = desk.read();
  let isOver = false;
  const edit = desk.edit({ do: "set-control", control: "a.b", value: 1 }).then((made) => {
    isOver = true;
    return made;
  });
  await server.answer("/api/edits");
  await server.answer("/api/project"); // the reading from before the edit
  await vi.waitFor(() => expect(desk.project?.revision).toBe(0));
  expect(isOver).toBe(false);
  await server.answer("/api/project");
  expect(await edit).toBe(true);
  await first;
  expect(desk.project?.revision).toBe(1);
});

it("a change is made once more after the server has lost count, but not on something else", async () => {
  const made = { revision: 1, words: "set it", files: [], undo: null, redo: null };
  const outOfDate = new Refused(409, "out-of-date", "The project has changed.");
  for (const [tempo_bpm, times, isMade] of [
    [80, 2, true],
    [90, 1, false],
  ] as const) {
    const server = serve();
    desk.project = { ...PROJECT, revision: 7, patch: { tempo_bpm: 80 } as Patch };
    server.patch = { tempo_bpm };
    const make = vi.fn().mockRejectedValueOnce(outOfDate).mockResolvedValue(made);
    const change = desk.change(make);
    await server.answer("/api/project");
    if (isMade) await server.answer("/api/project");
    expect(await change).toBe(isMade);
    expect(make).toHaveBeenCalledTimes(times);
  }
});

it("many calls for a reading are answered by one more, with the sheets where any of them wants them", async () => {
  const server = serve();
  desk.project = { ...PROJECT };
  const calls = [desk.read(false), desk.read(false), desk.read(true), desk.read(false)];
  await server.answer("/api/project");
  await server.answer("/api/project");
  await Promise.all(calls);
  const asked = server.asked.filter((path) => path.startsWith("/api/project"));
  expect(asked).toEqual(["/api/project?sheets=no", "/api/project"]);
});

it("readings are shown while the findings are still sought", async () => {
  vi.resetModules(); // a desk that waits for no answer of a test before
  const { desk } = await import("./desk.svelte");
  const server = serve();
  void desk.read();
  await server.answer("/api/project");
  expect(desk.isRead).toBe(false);
  await server.answer("/api/readings");
  await vi.waitFor(() => expect(desk.isRead).toBe(true));
  expect(desk.isProved).toBe(false);
  await server.answer("/api/proof");
  await vi.waitFor(() => expect(desk.isProved).toBe(true));
});

it("what waits for the edits under way goes on when the page shows them", async () => {
  const server = serve();
  desk.project = { ...PROJECT };
  const edit = desk.edit({ do: "set-control", control: "a.b", value: 1 });
  let seen = -1;
  const waiting = desk.settled().then(() => (seen = desk.project?.revision ?? -1));
  await server.answer("/api/edits");
  expect(seen).toBe(-1);
  await server.answer("/api/project");
  await edit;
  await waiting;
  expect(seen).toBe(1);
});

it("a fix that has met another change is asked about, and goes on from what was shown", async () => {
  const met = (revision: number, fix: string): [number, unknown] => [
    409,
    {
      error: {
        name: "changed-meanwhile",
        message: "This has been changed meanwhile.",
        revision,
        fix,
        theirs: [{ by: "disk", words: "changed on the disk: rig.toml" }],
      },
    },
  ];
  const made = { revision: 4, words: "take it out", files: [], undo: null, redo: null };
  const answers = [met(2, "take b out"), met(3, "take c out"), [200, made] as const];
  const sent: unknown[] = [];
  vi.stubGlobal("fetch", (path: string, init: RequestInit) => {
    if (path !== "/api/fixes")
      return Promise.resolve(
        new Response(JSON.stringify({ ...PROJECT, revision: 4, empty: true })),
      );
    const { revision, seen } = JSON.parse(String(init.body)) as Record<string, unknown>;
    sent.push([revision, seen]);
    const [status, data] = answers[sent.length - 1] ?? [500, null];
    return Promise.resolve(new Response(JSON.stringify(data), { status }));
  });
  desk.project = { ...PROJECT, revision: 1 };
  const finding = { finding: "f", at: "x", fix: { words: "take a out", safe: false } };
  const applied = desk.applyFix(finding as unknown as Finding);
  for (const fix of ["take b out", "take c out"]) {
    await vi.waitFor(() => expect(asking.question?.details?.at(-1)).toContain(fix));
    expect(asking.question?.details?.[0]).toBe("On the disk: rig.toml");
    asking.answer(true);
  }
  expect(await applied).toBe(true);
  expect(sent).toEqual([
    [1, "take a out"],
    [2, "take b out"],
    [3, "take c out"],
  ]);
});
