// Bundles the live page: src/main.ts with its style in, ../built/live.js and live.css out.
// The same sources give the same bytes, so that what is committed can be held against a new build.
import { build } from "esbuild";

await build({
  entryPoints: { live: "src/main.ts" },
  outdir: "../built",
  bundle: true,
  minify: true,
  format: "iife",
  // Not ASCII only: the page is UTF-8, and escapes would cost room.
  charset: "utf8",
  // Browsers that unzip in the page by themselves.
  target: ["chrome111", "firefox113", "safari16.4"],
  legalComments: "none",
  logLevel: "info",
});
