/** Waiting until what is shown belongs to the project as it stands. */

/** Wait until `isSettled` says so, or so long has passed; returns whether it did. */
export async function settled(isSettled: () => boolean, longest_ms = 15_000): Promise<boolean> {
  const end_ms = performance.now() + longest_ms;
  while (!isSettled()) {
    if (performance.now() > end_ms) return false;
    await new Promise((resolve) => setTimeout(resolve, 30));
  }
  return true;
}
