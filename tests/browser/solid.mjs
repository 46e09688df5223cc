// A garment as a solid, judged by a general validator: `node solid.mjs PATH_TO_PROGRAM`.
// Ends with 1 at the first thing that is not as it should be.
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { readFileSync, mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve as whole } from "node:path";
import validator from "gltf-validator";

const program = whole(process.argv[2] ?? "../../target/debug/oddments");
const folder = mkdtempSync(join(tmpdir(), "solid-"));
try {
  for (const [garment, sizes] of [["mitten", "y7-8"], ["tam", "m3-6,y7-8"]]) {
    const file = join(folder, `${garment}.glb`);
    execFileSync(program, ["pattern", garment, "--sizes", sizes, "--format", "glb", "--detail", "coarse", "--output", file]);
    const bytes = new Uint8Array(readFileSync(file));
    const told = await validator.validateBytes(bytes, { maxIssues: 20 });
    const { numErrors, numWarnings, messages } = told.issues;
    assert.equal(numErrors + numWarnings, 0, `${garment}: ${JSON.stringify(messages, null, 1)}`);
    assert.match(told.info.generator, /^oddments /);
    assert.equal(told.info.version, "2.0");
    assert.ok(told.info.totalTriangleCount > 1000, `${garment}: ${told.info.totalTriangleCount} triangles`);
    console.log(`${garment}: ${bytes.length} bytes, ${told.info.totalTriangleCount} triangles, nothing wrong`);
  }
} finally {
  rmSync(folder, { recursive: true, force: true });
}
