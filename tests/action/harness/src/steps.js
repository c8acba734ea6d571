// Runs steps one after the other. After CompositeActionHandler.cs, StepsRunner.cs and ScriptHandler.cs of the runner.

import { spawnSync } from "node:child_process";
import { randomUUID } from "node:crypto";
import { existsSync, writeFileSync } from "node:fs";
import { join, resolve } from "node:path";
import { Channel } from "./commands.js";
import { condition, plain } from "./expressions.js";
import { freshFiles, obeyFiles } from "./files.js";
import { readAction } from "./read.js";
import { STANDINS } from "./standins.js";

const PER_KIND = 10; // ExecutionContext.cs: issues of a kind that a step of the job keeps
const LONGEST = 4096; // ExecutionContext.cs: UTF-16 units of an issue's message
const SHELLS = { bash: ["bash", ["--noprofile", "--norc", "-e", "-o", "pipefail"]], sh: ["sh", ["-e"]] };

// What is true of the whole job: its environment, and what it leaves behind.
export class Job {
  constructor(scenario) {
    this.scenario = scenario;
    Object.assign(this, { env: { ...scenario.env }, path: [], artifacts: {}, summaries: [], issues: [], lost: 0 });
    Object.assign(this, { masks: [], states: [], commands: [], log: [], matchers: new Set(), cancelled: scenario.cancelled ?? false });
  }

  github(more = {}) {
    const { event, workspace, temp } = this.scenario;
    return {
      event_name: event, workspace, repository: "owner/portfolio", run_id: this.scenario["run-id"] ?? "1", run_attempt: "1",
      ref_name: "main", actor: "someone", event: this.scenario["event-payload"] ?? {}, job: "check", temp, ...more,
    };
  }

  // What one step may do; `kept` counts the issues of the step of the job that it belongs to.
  effects(record, kept) {
    return {
      log: (line) => this.log.push(line),
      command: (command) => this.commands.push({ step: record.label, ...command }),
      fail: () => { record.failed = true; },
      output: (name, value) => { record.outputs[name] = value; },
      env: (name, value) => { this.env[name] = value; },
      path: (folder) => { this.path.unshift(folder); },
      state: (name, value) => { this.states.push([name, value]); },
      mask: (value) => { this.masks.push(value); },
      summary: (text) => { this.summaries.push(text); },
      issue: (kind, message, properties) => {
        kept[kind] = (kept[kind] ?? 0) + 1;
        if (kept[kind] > PER_KIND) this.lost += 1;
        else this.issues.push({ ...properties, kind, step: record.label, message: message.slice(0, LONGEST) });
      },
    };
  }
}

// Runs steps of a job or of an action in it; returns their records and the status they add up to.
// `scope`: inputs, env of outer steps, folder of the action, and the issues kept so far if this is an action.
export function runSteps(job, steps, scope) {
  const results = {};
  const records = [];
  let status = "success";
  for (const step of steps) {
    const record = { id: step.id, label: step.label, outputs: {}, failed: false, inner: undefined };
    records.push(record);
    const kept = scope.kept ?? {};
    const effects = job.effects(record, kept);
    const contexts = {
      ...scope.contexts,
      github: job.github({ action_path: scope.folder ?? "", action_status: status }),
      runner: { temp: job.scenario.temp, os: "Linux" },
      job: { status },
      steps: results,
      env: { ...job.env, ...scope.env },
    };
    let goes = false;
    try {
      contexts.env = { ...contexts.env, ...plain(step.env, contexts, status) };
      goes = condition(step.if, contexts, status, job.cancelled);
    } catch (error) {
      effects.issue("error", error.message, {});
      record.failed = true;
    }
    if (!goes && !record.failed) record.outcome = record.conclusion = "skipped";
    else {
      if (goes) runStep(job, step, scope, { record, effects, contexts, kept, status });
      record.outcome = record.failed ? "failure" : "success";
      const forgiven = plain(step["continue-on-error"], contexts) === "true";
      record.conclusion = record.failed && forgiven ? "success" : record.outcome;
    }
    if (record.conclusion === "failure") status = "failure";
    if (step.id && !step.id.startsWith("__")) {
      results[step.id] = { outputs: record.outputs, outcome: record.outcome, conclusion: record.conclusion };
    }
  }
  return { status, records, results };
}

function runStep(job, step, scope, now) {
  const given = scope.given?.[step.id];
  if (given) {
    Object.assign(now.record.outputs, given);
    now.record.given = true;
  } else if (step.uses) useAction(job, step, now);
  else runScript(job, step, scope, now);
}

function runScript(job, step, scope, { record, effects, contexts, status }) {
  const { temp, workspace } = job.scenario;
  const shell = plain(step.shell ?? scope.shell, contexts) ?? "";
  if (!(shell in SHELLS)) throw new Error(`${step.label}: shell "${shell}" is not one of ${Object.keys(SHELLS)}`);
  const [program, flags] = SHELLS[shell];
  const script = join(temp, `${randomUUID()}.sh`);
  writeFileSync(script, plain(step.run, contexts, status));
  const files = freshFiles(temp);
  const github = Object.entries({
    workspace, event_name: contexts.github.event_name, action_path: contexts.github.action_path, repository: contexts.github.repository,
    run_id: contexts.github.run_id, run_attempt: contexts.github.run_attempt, actor: contexts.github.actor, ...files,
  }).map(([name, value]) => [`GITHUB_${name.toUpperCase()}`, value]);
  const environment = {
    ...job.scenario["runner-env"], ...contexts.env, ...Object.fromEntries(github),
    GITHUB_ACTIONS: "true", CI: "true", RUNNER_TEMP: temp, RUNNER_OS: "Linux",
  };
  environment.PATH = [...job.path, environment.PATH].join(":");
  const done = spawnSync(program, [...flags, script], {
    cwd: resolve(workspace, plain(step.directory, contexts) ?? ""), env: environment, maxBuffer: 256 * 1024 * 1024,
  });
  if (done.error) throw done.error;
  const unsecure = environment.ACTIONS_ALLOW_UNSECURE_COMMANDS === "true";
  const channel = new Channel(effects, { unsecure, matchers: job.matchers });
  channel.text(done.stdout.toString());
  channel.text(done.stderr.toString());
  if (done.status !== 0) {
    effects.issue("error", `Process completed with exit code ${done.status}.`, {});
    record.failed = true;
  }
  obeyFiles(files, effects);
}

function useAction(job, step, { record, effects, contexts, kept }) {
  const inputs = plain(step.with, contexts) ?? {};
  const name = step.uses.value;
  // "./" is the checkout; "$/" is the repository at the commit that runs, checked out or not.
  const roots = { "./": job.scenario.workspace, "$/": job.scenario.repository };
  const root = roots[name.slice(0, 2)];
  if (root) {
    const folder = join(root, name.slice(2));
    const done = runAction(job, folder, inputs, contexts.env, kept, job.scenario.given);
    Object.assign(record, { inner: done.records, failed: done.status === "failure" });
    Object.assign(record.outputs, done.outputs);
    return;
  }
  const [path, ref] = name.split("@");
  if (!/^[0-9a-f]{40}$/.test(ref ?? "")) throw new Error(`${name} is not pinned by a full commit`);
  const standin = STANDINS[path];
  if (!standin) throw new Error(`no stand-in for ${path}`);
  try {
    Object.assign(record.outputs, standin(inputs, job));
  } catch (error) {
    effects.issue("error", error.message, {});
    record.failed = true;
  }
}

// A composite action: inputs with their defaults, its steps, its outputs.
export function runAction(job, folder, given, env, kept, overrides) {
  const file = ["action.yml", "action.yaml"].map((one) => join(folder, one)).find((one) => existsSync(one));
  const action = readAction(file);
  const github = job.github({ action_path: folder });
  const inputs = Object.fromEntries(action.inputs.map(({ id, default: value }) => [id, given[id] ?? plain(value, { github }) ?? ""]));
  for (const name of Object.keys(given).filter((one) => !(one in inputs))) {
    job.effects({ label: folder }, kept).issue("warning", `Unexpected input '${name}'`, {});
  }
  const scope = { contexts: { inputs }, env, folder, kept, given: overrides };
  const done = runSteps(job, action.steps, scope);
  const contexts = { inputs, github, steps: done.results };
  const outputs = Object.fromEntries(action.outputs.map(({ id, value }) => [id, plain(value, contexts) ?? ""]));
  return { ...done, outputs };
}
