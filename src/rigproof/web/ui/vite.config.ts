import { svelte } from "@sveltejs/vite-plugin-svelte";
import { svelteTesting } from "@testing-library/svelte/vite";
import { defineConfig } from "vitest/config";
import { licences } from "./licences";

// The server's policy allows no inline code and no data: fonts, so everything becomes a file of its own.
export default defineConfig({
  base: "./",
  plugins: [svelte(), svelteTesting(), licences()],
  build: {
    outDir: "../page",
    emptyOutDir: true,
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
    target: "es2022",
    chunkSizeWarningLimit: 2000,
  },
  worker: { format: "es" },
  test: {
    environment: "jsdom",
    include: ["src/**/*.test.ts"],
    // One page's environment for all files of a process: a fifth of the time. What a test puts in, it takes out.
    isolate: false,
    restoreMocks: true,
    unstubGlobals: true,
  },
});
