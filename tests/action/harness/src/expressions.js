// Expressions, by the official lexer, parser and evaluator; only the status functions are the runner's own.

import { Evaluator, Lexer, Parser, data } from "@actions/expressions";
import { isBasicExpression, isMapping, isSequence } from "@actions/workflow-parser";

const CONTEXTS = ["github", "inputs", "steps", "env", "runner", "job", "matrix", "needs", "strategy"];

// `status` is "success" or "failure": of the action for steps inside it (github.action_status in the
// runner's SuccessFunction.cs and FailureFunction.cs), of the job for steps of a job.
function statusFunctions(status, cancelled) {
  const entry = (name, call) => [name, { name, minArgs: 0, maxArgs: 0, call: () => new data.BooleanData(call()) }];
  return new Map([
    entry("success", () => !cancelled && status === "success"),
    entry("failure", () => !cancelled && status === "failure"),
    entry("cancelled", () => cancelled),
    entry("always", () => true),
  ]);
}

function evaluate(expression, contexts, status, cancelled) {
  const functions = statusFunctions(status, cancelled);
  const { tokens } = new Lexer(expression).lex();
  const tree = new Parser(tokens, CONTEXTS, [...functions.values()]).parse();
  const values = JSON.parse(JSON.stringify({ ...emptyContexts(), ...contexts }), data.reviver);
  return new Evaluator(tree, values, functions).evaluate();
}

function emptyContexts() {
  return Object.fromEntries(CONTEXTS.map((name) => [name, {}]));
}

export function condition(token, contexts, status, cancelled) {
  const value = evaluate(token.expression, contexts, status, cancelled);
  return value.kind === data.Kind.Boolean ? value.value : value.coerceString() !== "" && value.coerceString() !== "0";
}

// A token of a manifest or workflow as plain values, with its expressions evaluated.
export function plain(token, contexts, status = "success") {
  if (token === undefined || token === null) return undefined;
  if (isMapping(token)) {
    return Object.fromEntries([...token].map(({ key, value }) => [key.toString(), plain(value, contexts, status)]));
  }
  if (isSequence(token)) return [...token].map((value) => plain(value, contexts, status));
  if (isBasicExpression(token)) return evaluate(token.expression, contexts, status, false).coerceString();
  return token.toString();
}
