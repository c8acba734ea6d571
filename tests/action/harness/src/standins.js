// Stand-ins for the four actions that the action and its workflows use; everything else runs for real.
// Each gets its inputs and the job, and returns its outputs. It throws where the real one fails.

import { cpSync, existsSync, mkdirSync, readdirSync, rmSync, statSync } from "node:fs";
import { join } from "node:path";

const BAD_IN_ARTIFACT_NAMES = /["*:<>?|\r\n\\/]/;

function setupPython(given, job) {
  job.matchers.add("python"); // the real one registers a matcher for tracebacks
  return { "python-path": job.scenario.python, "python-version": given["python-version"] };
}

function uploadArtifact(given, job) {
  if (!given.name || BAD_IN_ARTIFACT_NAMES.test(given.name)) throw new Error(`The artifact name is not valid: ${given.name}`);
  if (given.name in job.artifacts && given.overwrite !== "true") throw new Error("an artifact with this name already exists");
  if (job.scenario["failing-upload"]) throw new Error("storage quota has been hit");
  if (!existsSync(given.path)) return {};
  const files = readdirSync(given.path, { recursive: true }).map(String);
  job.artifacts[given.name] = files.filter((name) => statSync(join(given.path, name)).isFile()).sort();
  return { "artifact-id": "1" };
}

// A key that is taken is not written again; a folder is found by its path as well as by its key.
function store(job, given) {
  return join(job.scenario.caches, encodeURIComponent(given.path));
}

function cacheRestore(given, job) {
  const folder = store(job, given);
  const kept = existsSync(folder) ? readdirSync(folder) : [];
  const prefixes = [given.key, ...(given["restore-keys"] ?? "").split("\n")].filter((one) => one !== "");
  for (const prefix of prefixes) {
    const key = kept.filter((one) => decodeURIComponent(one).startsWith(prefix)).at(-1);
    if (key === undefined) continue;
    cpSync(join(folder, key), given.path, { recursive: true, verbatimSymlinks: true });
    return { "cache-matched-key": decodeURIComponent(key), "cache-hit": String(decodeURIComponent(key) === given.key) };
  }
  return { "cache-hit": "" };
}

function cacheSave(given, job) {
  const folder = join(store(job, given), encodeURIComponent(given.key));
  if (existsSync(folder)) return {};
  if (!existsSync(given.path)) throw new Error("Path Validation Error");
  mkdirSync(folder, { recursive: true });
  cpSync(given.path, folder, { recursive: true, verbatimSymlinks: true });
  return {};
}

function checkout(given, job) {
  const { workspace, repository } = job.scenario;
  const target = given.path ? join(workspace, given.path) : workspace;
  rmSync(target, { recursive: true, force: true });
  cpSync(repository, target, { recursive: true, filter: (path) => !/[\\/](\.git|\.venv|node_modules)$/.test(path) });
  return {};
}

export const STANDINS = {
  "actions/setup-python": setupPython,
  "actions/upload-artifact": uploadArtifact,
  "actions/cache/restore": cacheRestore,
  "actions/cache/save": cacheSave,
  "actions/checkout": checkout,
};
