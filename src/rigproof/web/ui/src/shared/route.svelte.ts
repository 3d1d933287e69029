/** Which place is shown: the address behind the `#`, so that Back goes back. */

class Route {
  place = $state("");
}

export const route = new Route();

/** Return the key of a run, where the address is the link that was printed; null where it names a place. */
export const keyInAddress = (): string | null =>
  /^#([A-Za-z0-9_-]{20,})$/.exec(location.hash)?.[1] ?? null;

function read(): void {
  route.place = /^#\/([a-z-]+)/.exec(location.hash)?.[1] ?? "";
}

/** Follow the address from now on; where it becomes a link that was printed, `comeIn` has to see to it. */
export function followAddress(comeIn: () => void): () => void {
  const follow = () => (keyInAddress() === null ? read() : comeIn());
  read();
  window.addEventListener("hashchange", follow);
  return () => window.removeEventListener("hashchange", follow);
}

/** Show a place. */
export function go(place: string): void {
  if (route.place === place) return;
  location.hash = `#/${place}`;
  route.place = place;
}
