/** Short sentences at the foot of the page: what was done, what could not be. */

export interface Notice {
  id: number;
  text: string;
  sort: "word" | "trouble";
}

class Notices {
  all = $state<Notice[]>([]);
}

export const notices = new Notices();
let count = 0;

/** Say something. A word goes by itself, trouble stays until it is put away. */
export function tell(text: string, sort: Notice["sort"] = "word"): void {
  const id = ++count;
  notices.all = [...notices.all.filter((one) => one.text !== text), { id, text, sort }].slice(-4);
  if (sort === "word") window.setTimeout(() => dismiss(id), 4000);
}

export function dismiss(id: number): void {
  notices.all = notices.all.filter((one) => one.id !== id);
}
