// Uses the generated types as a person would. It is compiled and never run.
import type { components, operations } from "./throughline";

type Page = operations["list-players"]["responses"][200]["content"]["application/json"];
type Problem = components["schemas"]["Problem"];

export function names(page: Page): string[] {
  const items: components["schemas"]["Player"][] = page.items;
  return items.map((player) => `${player.id} ${player.name}`);
}

export const condition: operations["replace-player"]["parameters"]["header"] = { "If-Match": '"1"' };

// @ts-expect-error: the version to change cannot be left out.
export const forgotten: operations["replace-player"]["parameters"]["header"] = {};

export const isStale = (problem: Problem): boolean => problem.type === "/problems/stale";
