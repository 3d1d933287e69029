/** The box of cables against those that the patch uses. */
import type { Cable, CableStock, Patch, Project } from "../shared/types";

/** The leads that can be in the box. */
export const LEADS = [
  "mono-3.5",
  "stereo-3.5",
  "midi-crossed",
  "midi-din",
  "usb",
  "ribbon",
  "line-6.3",
] as const;

/** The lead that each connector takes, as the net takes it. */
const LEAD_OF: Record<string, string> = {
  "mono-3.5": "mono-3.5",
  "stereo-3.5": "stereo-3.5",
  "midi-trs-a": "stereo-3.5",
  "midi-trs-b": "stereo-3.5",
  "midi-din": "midi-din",
  "usb-host": "usb",
  "usb-device": "usb",
  ribbon: "ribbon",
  "line-6.3": "line-6.3",
};

/** Return the plug of a jack of the rig, or nothing where there is no such jack. */
export function plugOf(project: Project, name: string): string | undefined {
  const [module = "", jack = ""] = name.split(".");
  const thing = [...(project.rig?.modules ?? []), ...(project.rig?.outside ?? [])].find(
    (one) => one.id === module,
  );
  return thing && project.sheets[thing.sheet]?.jacks[jack]?.plug;
}

/** Return the sort of lead of a cable: as written, else a stereo one only where both ends are stereo. */
export function leadOf(project: Project, cable: Cable): string {
  if (cable.lead !== null) return cable.lead;
  const a = LEAD_OF[plugOf(project, cable.source) ?? ""] ?? "mono-3.5";
  const b = LEAD_OF[plugOf(project, cable.target) ?? ""] ?? "mono-3.5";
  if (a === b) return a;
  return a === "mono-3.5" || b === "mono-3.5" ? "mono-3.5" : a;
}

export interface StockRow {
  lead: string;
  cm: number;
  count: number;
  used: number;
  /** Where it stands in the rig's list; null for cables that the patch uses and the box lacks altogether. */
  index: number | null;
}

export interface StockView {
  rows: StockRow[];
  /** Cables of which the patch does not say how long they are, by lead. */
  open: Record<string, number>;
}

/** Return what is in the box and how much of each the patch uses. */
export function stockOf(project: Project, patch: Patch, box: readonly CableStock[]): StockView {
  const used = new Map<string, number>();
  const open: Record<string, number> = {};
  for (const cable of patch.cables) {
    const lead = leadOf(project, cable);
    if (cable.cm === null) open[lead] = (open[lead] ?? 0) + 1;
    else used.set(`${lead} ${cable.cm}`, (used.get(`${lead} ${cable.cm}`) ?? 0) + 1);
  }
  const rows: StockRow[] = box.map(({ lead, cm, count }, index) => {
    const key = `${lead} ${cm}`;
    const row = { lead, cm, count, used: used.get(key) ?? 0, index };
    used.delete(key); // a second line of the same sort holds none of them
    return row;
  });
  for (const [key, count] of used) {
    const [lead = "", cm = "0"] = key.split(" ");
    rows.push({ lead, cm: Number(cm), count: 0, used: count, index: null });
  }
  return { rows, open };
}
