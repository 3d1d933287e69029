/** The one module that talks to the server. */
import type {
  Beginning,
  Begun,
  Changed,
  Diagram,
  Edit,
  Ends,
  FileChange,
  Happening,
  Job,
  KindInfo,
  LibrarySheet,
  Project,
  Proof,
  Readings,
  SheetDraft,
  SheetForm,
  SheetInFull,
  Trace,
  Trouble,
} from "./types";

/** The server will not do what it was asked. */
export class Refused extends Error {
  constructor(
    readonly status: number,
    readonly code: string,
    message: string,
    readonly errors: Trouble[] = [],
    readonly more: Record<string, unknown> = {},
  ) {
    super(message);
    this.name = "Refused";
  }

  /** Everything that is wrong, a sentence each. */
  get sentences(): string[] {
    return this.errors.length > 0 ? this.errors.map(troubleWords) : [this.message];
  }
}

/** The server does not answer. */
export class Away extends Error {
  constructor() {
    super("rigproof does not answer");
    this.name = "Away";
  }
}

const KNOWN_SHOWN = 12;

/** Return one thing that is wrong as a line: file, line and key, what it is, what was found and what would do. */
export function troubleWords(trouble: Trouble): string {
  const parts = [trouble.problem];
  const found = typeof trouble.found === "string" ? trouble.found : "";
  if (found && !trouble.problem.includes(found)) parts.push(`found ${found}`);
  if (trouble.expected) parts.push(`expected ${trouble.expected}`);
  if (trouble.nearest) parts.push(`did you mean '${trouble.nearest}'?`);
  else if (trouble.known.length > 0) {
    const more = trouble.known.length > KNOWN_SHOWN ? ", ..." : "";
    parts.push(`known: ${trouble.known.slice(0, KNOWN_SHOWN).join(", ")}${more}`);
  }
  const text = parts.join("; ");
  const { where } = trouble;
  if (!where) return text;
  const line = where.line === null ? "" : ` line ${where.line}`;
  const key = where.key ? `, ${where.key}` : "";
  return `${where.file}${line}${key}: ${text}`;
}

export async function ask<T>(
  method: string,
  path: string,
  body?: unknown,
  options: { signal?: AbortSignal } = {},
): Promise<T> {
  let answer: Response;
  try {
    answer = await fetch(path, {
      method,
      credentials: "same-origin",
      headers: body === undefined ? {} : { "content-type": "application/json" },
      body: body === undefined ? undefined : JSON.stringify(body),
      signal: options.signal,
    });
  } catch (error) {
    if (error instanceof DOMException && error.name === "AbortError") throw error;
    throw new Away();
  }
  return answered(answer.status, await answer.text());
}

/** Return what the server has answered; throws `Refused` where it will not do what it was asked. */
function answered<T>(status: number, text: string): T {
  let data: unknown;
  try {
    data = JSON.parse(text);
  } catch {
    throw new Refused(status, "no-json", `The server answered ${status}.`);
  }
  if (status < 200 || status > 299) {
    const { name, message, errors, ...more } = (
      data as { error: { name: string; message: string; errors?: Trouble[] } }
    ).error;
    throw new Refused(status, name, message, errors ?? [], more);
  }
  return data as T;
}

/** Send a file, and tell what share of it, 0 to 1, has gone. `fetch` cannot tell that. */
export function send<T>(path: string, file: Blob, tell: (share: number) => void): Promise<T> {
  return new Promise((resolve, reject) => {
    const request = new XMLHttpRequest();
    request.open("PUT", path);
    request.upload.onprogress = (event) => {
      if (event.total > 0) tell(event.loaded / event.total);
    };
    request.onload = () => {
      try {
        resolve(answered<T>(request.status, request.responseText));
      } catch (error) {
        reject(error as Error);
      }
    };
    request.onerror = () => reject(new Away());
    request.send(file);
  });
}

const query = (values: Record<string, string | number | null | undefined>): string => {
  const params = new URLSearchParams();
  for (const [key, value] of Object.entries(values)) {
    if (value !== null && value !== undefined) params.set(key, String(value));
  }
  const text = params.toString();
  return text === "" ? "" : `?${text}`;
};

export interface RenderWish {
  section?: string | null;
  from_bar?: number | null;
  seconds?: number | null;
  rate_hz?: number;
  bits?: string;
  stems?: string[];
  stem_volts?: number;
  probes?: string[];
  without?: number[];
  fix?: { finding: string; at: string };
}

export interface FixPreview {
  revision: number;
  finding: string;
  at: string;
  words: string;
  safe: boolean;
  files: FileChange[];
}
export interface ProbeLane {
  low_v: number[];
  high_v: number[];
  level: { lo_v: number; hi_v: number; dc_v: number; rms_v: number };
  spectrum: { step_hz: number; db: number[] };
}
export interface ProbeView {
  at_s: number;
  length_s: number;
  lanes: ProbeLane[];
}

export const api = {
  enter: (token: string) => ask<{ entered: boolean }>("POST", "/api/enter", { token }),
  /** `sheets: false` leaves the sheets out, which seldom change. */
  project: (sheets = true) => ask<Project>("GET", `/api/project${sheets ? "" : "?sheets=no"}`),
  text: (name: string) =>
    ask<{ revision: number; file: string; text: string }>(
      "GET",
      `/api/texts/${name.split("/").map(encodeURIComponent).join("/")}`,
    ),
  proof: () => ask<Proof>("GET", "/api/proof"),
  readings: () => ask<Readings>("GET", "/api/readings"),
  diagram: () => ask<Diagram>("GET", "/api/diagram"),
  /** Where a cable from a jack may end, and why not elsewhere. */
  ends: (jack: string, signal?: AbortSignal, without?: number) =>
    ask<Ends>("GET", `/api/ends${query({ jack, without })}`, undefined, { signal }),
  trace: (start: string, at?: number | null, signal?: AbortSignal) =>
    ask<Trace>("GET", `/api/trace${query({ start, at })}`, undefined, { signal }),
  edit: (client: string, revision: number, edits: Edit[], keep_mine = false) =>
    ask<Changed>("POST", "/api/edits", { client, revision, edits, keep_mine }),
  /** `seen` is what the fix said where it was looked at. */
  fix: (client: string, revision: number, finding: string, at: string, seen: string) =>
    ask<Changed>("POST", "/api/fixes", { client, revision, finding, at, seen }),
  /** What a fix would write, without writing it. */
  fixPreview: (finding: string, at: string) =>
    ask<FixPreview>("GET", `/api/fixes/preview${query({ finding, at })}`),
  undo: (client: string, revision: number) =>
    ask<Changed>("POST", "/api/undo", { client, revision }),
  redo: (client: string, revision: number) =>
    ask<Changed>("POST", "/api/redo", { client, revision }),
  /** Begin a project in the folder that has none. */
  begin: (client: string, wanted: Beginning) =>
    ask<Begun>("POST", "/api/begin", { client, ...wanted }),
  library: () => ask<{ sheets: LibrarySheet[] }>("GET", "/api/library"),
  librarySheet: (name: string) =>
    ask<SheetInFull>("GET", `/api/library/${encodeURIComponent(name)}`),
  kinds: () => ask<{ kinds: KindInfo[] }>("GET", "/api/kinds"),
  /** What a new sheet would be; nothing is written. */
  draftSheet: (form: SheetForm, signal?: AbortSignal) =>
    ask<SheetDraft>("POST", "/api/sheets/draft", form, { signal }),
  addSheet: (client: string, form: SheetForm) =>
    ask<{ revision: number; file: string }>("POST", "/api/sheets", { client, ...form }),
  /** Write what a form changes of one of the project's own sheets. */
  changeSheet: (client: string, revision: number, form: SheetForm, keep_mine = false) =>
    ask<Changed>("POST", "/api/sheets/change", { client, revision, keep_mine, ...form }),
  samples: () => ask<{ files: string[] }>("GET", "/api/samples"),
  addSample: (name: string, file: Blob, tell: (share: number) => void = () => undefined) =>
    send<{ file: string }>(`/api/samples/${encodeURIComponent(name)}`, file, tell),
  renders: () => ask<{ jobs: Job[] }>("GET", "/api/renders"),
  startRender: (wish: RenderWish) => ask<Job>("POST", "/api/renders", wish),
  render: (id: string) => ask<Job>("GET", `/api/renders/${encodeURIComponent(id)}`),
  stopRender: (id: string) => ask<Job>("DELETE", `/api/renders/${encodeURIComponent(id)}`),
  renderFile: (id: string, file: string) =>
    `/api/renders/${encodeURIComponent(id)}/files/${encodeURIComponent(file)}`,
  probe: (id: string, jack: string, at_s: number, length_s: number, columns: number) =>
    ask<ProbeView>(
      "GET",
      `/api/renders/${encodeURIComponent(id)}/probe${query({ jack, at_s, length_s, columns })}`,
    ),
};

/** Listen to everything that happens until the answer is called; it connects again by itself. */
export function listen(
  hear: (happening: Happening) => void,
  tellState: (isThere: boolean) => void,
): () => void {
  let socket: WebSocket | null = null;
  let timer = 0;
  let isOver = false;
  let wait_ms = 250;
  const connect = (): void => {
    const address = new URL("/api/events", location.href);
    address.protocol = address.protocol === "https:" ? "wss:" : "ws:";
    socket = new WebSocket(address);
    socket.onopen = () => {
      wait_ms = 250;
      tellState(true);
    };
    socket.onmessage = (message) => hear(JSON.parse(String(message.data)) as Happening);
    socket.onclose = () => {
      if (isOver) return;
      tellState(false);
      timer = window.setTimeout(connect, wait_ms);
      wait_ms = Math.min(wait_ms * 2, 4000);
    };
  };
  connect();
  return () => {
    isOver = true;
    window.clearTimeout(timer);
    socket?.close();
  };
}
