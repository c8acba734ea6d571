// The files through which a step gives orders, new for every step. After FileCommandManager.cs of the runner.

import { randomUUID } from "node:crypto";
import { existsSync, mkdirSync, readFileSync, statSync, writeFileSync } from "node:fs";
import { join } from "node:path";

const KINDS = { env: "set_env_", path: "add_path_", output: "set_output_", state: "save_state_", step_summary: "step_summary_" };
const SUMMARY_LIMIT = 1024 * 1024;
const NOT_BY_ENV_FILE = new Set(["NODE_OPTIONS"]);

export function freshFiles(temp) {
  const folder = join(temp, "_runner_file_commands");
  mkdirSync(folder, { recursive: true });
  const suffix = randomUUID();
  const paths = {};
  for (const [kind, prefix] of Object.entries(KINDS)) {
    paths[kind] = join(folder, prefix + suffix);
    writeFileSync(paths[kind], "");
  }
  return paths;
}

// NAME=VALUE, or NAME<<MARK, lines, MARK. Throws where the runner does.
export function pairs(text) {
  const found = [];
  let index = 0;
  const next = () => {
    if (index >= text.length) return null;
    const start = index;
    const end = text.indexOf("\n", index);
    index = end < 0 ? text.length : end + 1;
    return { line: text.slice(start, end < 0 ? undefined : end), ended: end >= 0 };
  };
  for (let read = next(); read !== null; read = next()) {
    const { line } = read;
    if (line === "") continue;
    const equals = line.indexOf("=");
    const heredoc = line.indexOf("<<");
    if (equals >= 0 && (heredoc < 0 || equals < heredoc)) {
      found.push([line.slice(0, equals), line.slice(equals + 1)]);
    } else if (heredoc >= 0) {
      const name = line.slice(0, heredoc);
      const mark = line.slice(heredoc + 2);
      if (name === "" || mark === "") throw new Error(`Invalid format '${line}'`);
      const lines = [];
      for (let inner = next(); ; inner = next()) {
        if (inner === null) throw new Error(`Matching delimiter not found '${mark}'`);
        if (inner.line === mark) break;
        if (!inner.ended) throw new Error("EOF marker missing new line");
        lines.push(inner.line);
      }
      found.push([name, lines.join("\n")]);
    } else throw new Error(`Invalid format '${line}'`);
  }
  return found;
}

// Obey the files of a step that is over; each that cannot be read fails the step.
export function obeyFiles(paths, effects) {
  const read = (kind) => (existsSync(paths[kind]) ? readFileSync(paths[kind], "utf8") : "");
  const orders = {
    path: () => read("path").split(/\r\n|\r|\n/).filter((line) => line !== "").forEach(effects.path),
    env: () => {
      for (const [name, value] of pairs(read("env"))) {
        if (NOT_BY_ENV_FILE.has(name.toUpperCase())) effects.issue("error", `Can't store ${name}.`, {});
        else effects.env(name, value);
      }
    },
    output: () => pairs(read("output")).forEach(([name, value]) => effects.output(name, value)),
    state: () => pairs(read("state")).forEach(([name, value]) => effects.state(name, value)),
    step_summary: () => {
      const size = existsSync(paths.step_summary) ? statSync(paths.step_summary).size : 0;
      if (size > SUMMARY_LIMIT) {
        effects.issue("error", `$GITHUB_STEP_SUMMARY upload aborted, supports content up to a size of 1024k, got ${Math.floor(size / 1024)}k.`, {});
      } else if (size > 0) effects.summary(read("step_summary"));
    },
  };
  for (const [kind, obey] of Object.entries(orders)) {
    try {
      obey();
    } catch (error) {
      effects.issue("error", `Unable to process file command '${kind}' successfully. ${error.message}`, {});
      effects.fail();
    }
  }
}
