/** Which place is shown: the address behind the `#`, so that Back goes back. */

class Route {
  place = $state("");
}

export const route = new Route();

function read(): void {
  route.place = /^#\/([a-z-]+)/.exec(location.hash)?.[1] ?? "";
}

/** Follow the address from now on. */
export function followAddress(): () => void {
  read();
  window.addEventListener("hashchange", read);
  return () => window.removeEventListener("hashchange", read);
}

/** Show a place. */
export function go(place: string): void {
  if (route.place === place) return;
  location.hash = `#/${place}`;
  route.place = place;
}
