/** The drawing of the patch as it stands on the page, and what is done to it. */
import { Refused, api } from "../shared/api";
import { desk } from "../shared/desk.svelte";
import type { Diagram, DrawnEdge, DrawnGroup } from "../shared/types";
import { nthOf, withCable, withReplugged, withoutCable } from "./ahead";
import { arrange, USUAL_SHAPE } from "./arrange";
import { tracedOn, type Traced } from "./hops";
import { isBare, keepGroups, letGoAt, outOfGroup, snap, type Spot, type Spots } from "./place";
import { keepSame, pictureOf, type Picture } from "./picture";
import type { Points } from "./route";
import { foldId, keysOf, moduleOf, sketchOf } from "./shape";
import { recall, recallView, remember, rememberView } from "./stay";
import { traced } from "./trace.svelte";
import type { View } from "./view";

class Drawing {
  diagram = $state.raw<Diagram | null>(null);
  picture = $state.raw<Picture | null>(null);
  folded = $state.raw<ReadonlySet<string>>(new Set());
  /** Blocks that show all their jacks besides the chosen one. */
  opened = $state.raw<ReadonlySet<string>>(new Set());
  /** How many modules belong to another group than they are drawn in. */
  astray = $state(0);

  /** How the drawing was looked at last, and what was chosen then: kept while another place is shown. */
  view: View | null = null;
  seen: string | null = null;
  /** Width to height of the window that it is looked at through. */
  shape = USUAL_SHAPE;

  /** The block that is being moved by hand. */
  held = $state<string | null>(null);
  private before: { spots: Spots; ways: Map<string, Points>; byHand: ReadonlySet<string> } | null =
    null;
  private byHand: ReadonlySet<string> = new Set();

  private groups: DrawnGroup[] = [];
  private spots: Spots | null = null;
  private ways = new Map<string, Points>();
  private project = "";
  private wish = 0;

  /** The edge of every key. */
  edges = $derived.by((): ReadonlyMap<string, DrawnEdge> => {
    const edges = this.diagram?.edges ?? [];
    return new Map(keysOf(edges).map((key, index) => [key, edges[index] as DrawnEdge]));
  });
  /** The wire of every cable by its number in the project, which an edit that is shown ahead has not changed yet. */
  keyOfCable = $derived.by((): readonly string[] =>
    keysOf(
      (desk.project?.patch?.cables ?? []).map(({ source, target }) => ({
        sort: "cable",
        source,
        target,
      })),
    ),
  );
  traced = $derived.by((): Traced | null =>
    traced.trace && this.diagram ? tracedOn(traced.trace, this.diagram) : null,
  );
  /** The block that what is chosen belongs to. */
  chosenBlock = $derived.by((): string | null => {
    const chosen = desk.chosen;
    if (chosen?.sort === "module") return chosen.name;
    if (chosen?.sort === "jack" || chosen?.sort === "control") return moduleOf(chosen.name);
    return null;
  });
  /** The wires to emphasise: the chosen one, or those in and out of what is chosen. */
  near = $derived.by((): ReadonlySet<string> => {
    const chosen = desk.chosen;
    const found = new Set<string>();
    if (!chosen) return found;
    const cable = chosen.sort === "cable" ? this.keyOfCable[chosen.index] : undefined;
    for (const [key, edge] of this.edges) {
      const ends = [edge.source, edge.target];
      const isNear =
        chosen.sort === "cable"
          ? key === cable
          : chosen.sort === "jack"
            ? ends.includes(chosen.name)
            : chosen.sort === "module" && ends.some((end) => moduleOf(end) === chosen.name);
      if (isNear) found.add(key);
    }
    return found;
  });

  /** Fetch what there is to draw and draw it. */
  async follow(project: string): Promise<void> {
    const wish = ++this.wish;
    let diagram: Diagram;
    if (wish > 1) await desk.readingsIn(); // what is new is drawn ahead; nothing is, the first time
    if (wish !== this.wish) return;
    try {
      diagram = await api.diagram();
    } catch (error) {
      if (!(error instanceof Refused && error.status === 409)) desk.fail(error);
      return;
    }
    if (wish !== this.wish) return;
    if (project !== this.project) {
      this.project = project;
      this.spots = null;
      this.picture = null;
      this.view = recallView(project);
      this.opened = new Set();
      const stay = recall(project, diagram);
      this.groups = stay?.groups ?? [];
      this.spots = stay?.spots ?? null;
      this.folded = stay?.folded ?? new Set();
      this.ways = stay?.ways ?? new Map();
      this.byHand = stay?.byHand ?? new Set();
      this.held = null;
      this.before = null;
    }
    if (this.spots === null) this.arrange(diagram);
    else this.show(diagram);
  }

  /** Place all blocks from nothing, in the groups to which they belong now, for the window as it is now. */
  arrange(diagram: Diagram | null = this.diagram): void {
    if (!diagram) return;
    this.groups = keepGroups(diagram.groups, null);
    this.byHand = new Set();
    this.spots = arrange(sketchOf(diagram, this.groups, new Set()), this.shape);
    this.ways = new Map();
    this.picture = null;
    this.show(diagram);
  }

  private show(diagram: Diagram): void {
    this.groups = keepGroups(diagram.groups, this.groups);
    const names = new Set(this.groups.filter((one) => !isBare(one)).map((group) => group.name));
    this.folded = new Set([...this.folded].filter((name) => names.has(name)));
    const { picture, spots } = pictureOf({
      diagram,
      groups: this.groups,
      folded: this.folded,
      spots: this.spots ?? new Map(),
      ways: this.ways,
      byHand: this.byHand,
      isLoose: this.held !== null && diagram.blocks.every(({ id }) => this.spots?.has(id)),
    });
    this.spots = spots;
    this.ways = new Map([...picture.wires].map(([key, drawn]) => [key, drawn.way]));
    this.diagram = diagram;
    this.picture = keepSame(this.picture, picture);
    this.astray = outOfGroup(diagram.groups, this.groups);
    this.keep();
  }

  /** Keep the drawing as it is for when the page is opened again; not while a block is still in the hand. */
  private keep(): void {
    if (this.project === "" || this.held !== null) return;
    remember(this.project, {
      groups: this.groups,
      spots: this.spots ?? new Map(),
      folded: new Set(this.folded),
      byHand: new Set(this.byHand),
      ways: this.ways,
    });
  }

  /** Take a block into the hand, to put it elsewhere. Returns where it stands, null where it cannot be moved. */
  take(block: string): Spot | null {
    const spot = this.spots?.get(block);
    if (!spot || !this.picture?.shapes.has(block)) return null;
    this.held = block;
    this.before = { spots: this.spots ?? new Map(), ways: this.ways, byHand: this.byHand };
    return spot;
  }

  /** Let the block in the hand stand at a place, whatever stands there; its wires follow. */
  moveTo(wish: Spot): void {
    const { held, before, diagram } = this;
    if (held === null || !before || !diagram) return;
    const spot = { x: snap(wish.x), y: snap(wish.y) };
    const now = this.spots?.get(held);
    if (now?.x === spot.x && now.y === spot.y) return;
    // From where it was taken: wires that had to make way for it on its way here go back.
    this.spots = new Map(before.spots).set(held, spot);
    this.ways = before.ways;
    const others = [...before.byHand].filter((one) => one !== held);
    this.byHand = new Set([...others, held]);
    this.show(diagram);
  }

  /** Let go of the block in the hand where it is; what is in its way makes way. */
  putDown(): void {
    const { held, before, picture, diagram } = this;
    const drawn = held === null ? undefined : picture?.shapes.get(held);
    const isMoved = held !== null && this.spots?.get(held) !== before?.spots.get(held);
    this.held = null;
    this.before = null;
    if (!held || !drawn || !picture || !diagram || !isMoved) return;
    const others = [...picture.shapes.values()].filter((one) => one.shape.id !== held);
    const spot = letGoAt(
      drawn.box,
      others.map((one) => one.box),
    );
    this.spots = new Map(this.spots).set(held, spot);
    this.show(diagram);
  }

  putBack(): void {
    const { before, diagram } = this;
    this.held = null;
    this.before = null;
    if (!before || !diagram) return;
    this.spots = before.spots;
    this.ways = before.ways;
    this.byHand = before.byHand;
    this.show(diagram);
  }

  /** Keep how it is looked at, for when the page is opened again. */
  keepView(): void {
    if (this.project !== "") rememberView(this.project, this.view);
  }

  fold(group: string, isFolded = !this.folded.has(group)): void {
    const folded = new Set(this.folded);
    if (isFolded) folded.add(group);
    else folded.delete(group);
    this.folded = folded;
    if (this.diagram) this.show(this.diagram);
  }

  /** Return the group that a module can be folded into, null where that would be of it alone. */
  groupOf(module: string): string | null {
    if (module.startsWith("fold:")) return module.slice("fold:".length);
    const group = this.groups.find((one) => one.modules.includes(module));
    return group && !isBare(group) ? group.name : null;
  }

  /** Return the block that shows a module: its own, or the folded group in which it is. */
  blockOf(module: string): string {
    const group = this.groupOf(module);
    return group !== null && this.folded.has(group) ? foldId(group) : module;
  }

  open(module: string, isOpen = true): void {
    if (this.opened.has(module) === isOpen) return;
    const opened = new Set(this.opened);
    if (isOpen) opened.add(module);
    else opened.delete(module);
    this.opened = opened;
  }

  closeAll(): void {
    this.opened = new Set();
  }

  /** Plug a cable in; it is drawn at once. Returns whether it stayed. */
  async plug(cable: {
    source: string;
    target: string;
    lead?: string | null;
    colour?: string | null;
    cm?: number | null;
  }): Promise<boolean> {
    const said = Object.fromEntries(
      Object.entries(cable).filter(([, value]) => value !== null && value !== undefined),
    );
    return this.change(
      (diagram) => withCable(diagram, cable),
      () => desk.edit({ do: "add-cable", ...said }),
    );
  }

  async unplug(key: string): Promise<boolean> {
    const edge = this.edges.get(key);
    const diagram = this.diagram;
    if (!edge || edge.cable === null || !diagram) return false;
    const { source, target, cable: index } = edge;
    const nth = nthOf(diagram, index);
    return this.change(
      (before) => withoutCable(before, index),
      () => desk.edit({ do: "remove-cable", source, target, nth }),
    );
  }

  /** Move one end of a cable to another jack. */
  async replug(key: string, end: "source" | "target", jack: string): Promise<boolean> {
    const edge = this.edges.get(key);
    const diagram = this.diagram;
    if (!edge || edge.cable === null || !diagram || edge[end] === jack) return false;
    const { source, target, cable: index } = edge;
    const ends = { source, target, [end]: jack };
    const nth = nthOf(diagram, index);
    return this.change(
      (before) => withReplugged(before, index, ends),
      () =>
        desk.edit({
          do: "replug",
          source,
          target,
          new_source: ends.source,
          new_target: ends.target,
          nth,
        }),
    );
  }

  private async change(
    ahead: (before: Diagram) => Diagram,
    make: () => Promise<boolean>,
  ): Promise<boolean> {
    const before = this.diagram;
    if (before) this.show(ahead(before));
    const isMade = await make();
    if (!isMade && before) await this.follow(this.project);
    return isMade;
  }
}

export const drawing = new Drawing();
