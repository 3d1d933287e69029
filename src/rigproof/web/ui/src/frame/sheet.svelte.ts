/** The light sheet or the dark one: as chosen, else as the machine is set. */
const KEY = "rigproof-sheet";

class SheetLook {
  look = $state<"light" | "dark">("light");
}

export const sheet = new SheetLook();

function show(look: "light" | "dark"): void {
  sheet.look = look;
  document.documentElement.dataset.sheet = look;
}

export function turnSheet(): void {
  const look = sheet.look === "dark" ? "light" : "dark";
  localStorage.setItem(KEY, look);
  show(look);
}

const chosen = localStorage.getItem(KEY);
show(
  chosen === "dark" || chosen === "light"
    ? chosen
    : window.matchMedia?.("(prefers-color-scheme: dark)").matches
      ? "dark"
      : "light",
);
