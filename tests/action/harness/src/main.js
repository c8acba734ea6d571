// node runner.cjs SCENARIO: runs an action or a job of a workflow, prints what it left behind as JSON.

import { readFileSync } from "node:fs";
import { plain } from "./expressions.js";
import { readJob } from "./read.js";
import { Job, runAction, runSteps } from "./steps.js";

async function main() {
  const scenario = JSON.parse(readFileSync(process.argv[2], "utf8"));
  const job = new Job(scenario);
  let done;
  if (scenario.action) {
    done = runAction(job, scenario.action, scenario.inputs ?? {}, {}, {}, scenario.given);
  } else {
    const { env, steps, defaults } = await readJob(scenario.workflow, scenario.job);
    const contexts = { matrix: scenario.matrix ?? {} };
    const outer = Object.assign({}, ...env.map((one) => plain(one, { ...contexts, github: job.github() }) ?? {}));
    const shell = defaults && [...defaults].find(({ key }) => key.toString() === "shell")?.value;
    done = runSteps(job, steps, { contexts, env: outer, shell });
  }
  const { status, records, outputs } = done;
  const { env, path, artifacts, summaries, issues, lost, masks, states, commands, log } = job;
  process.stdout.write(JSON.stringify({ status, steps: records, outputs, env, path, artifacts, summaries, issues, lost, masks, states, commands, log }));
}

main();
