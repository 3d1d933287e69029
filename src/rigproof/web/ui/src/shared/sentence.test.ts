import { expect, it } from "vitest";
import { sentence } from "./sentence";

it.each([
  ["with everything up echo.out-left clips.", "With everything up echo.out-left clips."],
  ["echo repeats too late.", "echo repeats too late."],
  ["echo.out-left clips.", "echo.out-left clips."],
  ["mono-3.5 of 5 cm", "mono-3.5 of 5 cm"],
  ["+12V gives 1300 mA", "+12V gives 1300 mA"],
  ["Two outputs are joined.", "Two outputs are joined."],
  ["", ""],
])("%s", (text, wanted) => expect(sentence(text, new Set(["echo"]))).toBe(wanted));
