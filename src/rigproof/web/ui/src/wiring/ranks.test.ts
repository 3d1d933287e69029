import { describe, expect, it } from "vitest";
import { columnsOf, crossings, forwardOnly, inOrder, ranksOf } from "./ranks";

const link = (words: string) => {
  const [from = "", to = ""] = words.split(">");
  return { from, to };
};
const links = (words: string) => words.split(" ").map(link);
const tall = (): number => 10;

describe("ranksOf", () => {
  it("puts what is fed to the right of all that feeds it", () => {
    const ranks = ranksOf([..."abcd"], links("a>b b>c a>c c>d"));
    expect([...ranks]).toEqual([
      ["a", 0],
      ["b", 1],
      ["c", 2],
      ["d", 3],
    ]);
  });

  it("puts what nothing feeds next to what it feeds", () => {
    expect(ranksOf([..."abcx"], links("a>b b>c x>c")).get("x")).toBe(1);
  });

  it("cuts a loop where it comes back", () => {
    expect(forwardOnly([..."abc"], links("a>b b>c c>b")).map(({ from, to }) => from + to)).toEqual([
      "ab",
      "bc",
    ]);
    expect(ranksOf([..."ab"], links("a>b b>a a>a")).get("b")).toBe(1);
  });
});

describe("columnsOf", () => {
  it("uncrosses what need not cross", () => {
    const some = links("a>y b>x c>z");
    const columns = [
      ["a", "b", "c"],
      ["x", "y", "z"],
    ];
    expect(crossings(columns, some)).toBe(1);
    expect(crossings(inOrder(columns, some), some)).toBe(0);
  });

  it("lets what no wire joins fill up the shortest column", () => {
    expect(columnsOf([..."abcd"], links("a>c b>c"), tall)).toEqual([
      ["a", "b"],
      ["c", "d"],
    ]);
  });

  it("puts blocks without any wire one below the other", () => {
    expect(columnsOf([..."ab"], [], tall)).toEqual([["a", "b"]]);
  });
});
