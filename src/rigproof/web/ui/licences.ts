/** Gather the licences of all that is packed into the page, as those who wrote it ask, in one file beside it. */
import type { Plugin } from "vite";

const FOLDER = /^\0?(.*\/node_modules\/(?:@[^/]+\/)?[^/]+)\//;
const LICENCE = /^(licen[cs]e|copying|notice)/i;
const RULE = "-".repeat(80);

interface Manifest {
  name: string;
  version: string;
  license?: string;
  repository?: string | { url?: string };
  dependencies?: Record<string, string>;
}

export function licences(fileName = "licences.txt"): Plugin {
  let root = "";
  return {
    name: "rigproof-licences",
    apply: "build",
    configResolved(config) {
      root = config.root;
    },
    async generateBundle() {
      const read = (path: string) => this.fs.readFile(path, { encoding: "utf8" });
      const manifest = async (folder: string) =>
        JSON.parse(await read(`${folder}/package.json`)) as Manifest;
      // What a worker or a style sheet brings in is no module here, so everything asked for counts.
      const asked = Object.keys((await manifest(root)).dependencies ?? {});
      const folders = new Set(asked.map((name) => `${root}/node_modules/${name}`));
      for (const id of this.getModuleIds()) {
        const folder = FOLDER.exec(id)?.[1];
        if (folder) folders.add(folder);
      }
      const parts = ["This page is made with the work of others, under their licences."];
      for (const folder of [...folders].sort()) {
        const { name, version, license, repository } = await manifest(folder);
        const source = typeof repository === "string" ? repository : repository?.url;
        const texts = (await this.fs.readdir(folder)).filter((file) => LICENCE.test(file)).sort();
        if (texts.length === 0) this.error(`${name} comes without the text of its licence`);
        parts.push(
          `${RULE}\n${name} ${version} (${license ?? "see below"})\nSource: ${source ?? "npm"}`,
        );
        for (const file of texts) parts.push((await read(`${folder}/${file}`)).trim());
      }
      this.emitFile({ type: "asset", fileName, source: `${parts.join("\n\n")}\n` });
    },
  };
}
