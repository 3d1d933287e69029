/** A question that must be answered before anything goes on. */

export interface Question {
  title: string;
  text: string;
  details?: string[];
  yes: string;
  no: string;
}

class Asking {
  question = $state<Question | null>(null);
  answer: (isYes: boolean) => void = () => undefined;
}

export const asking = new Asking();

/** Ask, and return whether the answer is yes. A second question waits for the first. */
export async function ask(question: Question): Promise<boolean> {
  while (asking.question !== null) await new Promise((resolve) => setTimeout(resolve, 50));
  return new Promise((resolve) => {
    asking.question = question;
    asking.answer = (isYes) => {
      asking.question = null;
      resolve(isYes);
    };
  });
}
