// action.yml and workflows, by the official parser: any error that it reports ends the harness.

import { readFileSync } from "node:fs";
import { convertWorkflowTemplate, isMapping, isSequence, NoOperationTraceWriter, parseWorkflow } from "@actions/workflow-parser";
import { convertActionTemplate, parseAction } from "@actions/workflow-parser/actions/index";

function orThrow(context, path) {
  const errors = context.errors.getErrors();
  if (errors.length > 0) throw new Error(`${path}: ${errors.map((one) => one.message).join("; ")}`);
}

function entry(mapping, name) {
  if (!isMapping(mapping)) return undefined;
  return [...mapping].find(({ key }) => key.toString() === name)?.value;
}

// The converted step has no `with`, `shell` and `working-directory`: they come from the tokens.
function withTokens(steps, tokens) {
  return steps.map((step, index) => ({
    ...step,
    with: entry(tokens[index], "with"),
    shell: entry(tokens[index], "shell"),
    directory: entry(tokens[index], "working-directory"),
    label: (entry(tokens[index], "name") ?? step.run ?? step.uses).toString().split("\n")[0],
  }));
}

export function readAction(path) {
  const { context, value } = parseAction({ name: path, content: readFileSync(path, "utf8") }, new NoOperationTraceWriter());
  orThrow(context, path);
  const action = convertActionTemplate(context, value);
  orThrow(context, path);
  if (action.runs.using !== "composite") throw new Error(`${path}: not a composite action`);
  const tokens = [...entry(entry(value, "runs"), "steps")];
  return { inputs: action.inputs ?? [], outputs: action.outputs ?? [], steps: withTokens(action.runs.steps, tokens) };
}

export async function readJob(path, id) {
  const { context, value } = parseWorkflow({ name: path, content: readFileSync(path, "utf8") }, new NoOperationTraceWriter());
  orThrow(context, path);
  const workflow = await convertWorkflowTemplate(context, value);
  orThrow(context, path);
  const job = workflow.jobs.find((one) => one.id.value === id);
  if (!job) throw new Error(`${path}: no job ${id}`);
  const token = entry(entry(value, "jobs"), id);
  const list = entry(token, "steps");
  if (!isSequence(list)) throw new Error(`${path}: job ${id} has no steps`);
  return { env: [workflow.env, job.env], steps: withTokens(job.steps, [...list]), defaults: entry(entry(token, "defaults"), "run") };
}
