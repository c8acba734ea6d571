// What a step prints: workflow commands in both syntaxes, and what becomes of them.
// After ActionCommand.cs, ActionCommandManager.cs and OutputManager.cs of the runner.

const UNESCAPE_DATA = [["%0D", "\r"], ["%0A", "\n"], ["%25", "%"]];
const UNESCAPE_PROPERTY = [["%0D", "\r"], ["%0A", "\n"], ["%3A", ":"], ["%2C", ","], ["%25", "%"]];
const UNESCAPE_OLD = [["%3B", ";"], ["%0D", "\r"], ["%0A", "\n"], ["%5D", "]"], ["%25", "%"]];

const REGISTERED = [
  "add-mask", "add-matcher", "add-path", "debug", "echo", "endgroup", "error", "group", "notice",
  "remove-matcher", "save-state", "set-env", "set-output", "stop-commands", "warning",
];

// The matcher that setup-python registers: the two lines of a Python traceback that raise.
const TRACEBACK = [/^\s*File\s"(.*)",\sline\s(\d+),\sin\s(.*)$/, /^\s*raise\s(.*)\('(.*)'\)$/];

function unescape(text, table) {
  return table.reduce((done, [from, to]) => done.replaceAll(from, to), text);
}

function properties(text, separator, table) {
  const found = {};
  for (const part of text.split(separator).filter((one) => one !== "")) {
    const [name, ...value] = part.split("=");
    const joined = value.join("=");
    if (name !== "" && joined !== "") found[name.toLowerCase()] = unescape(joined, table);
  }
  return found;
}

function named(info, known) {
  const space = info.indexOf(" ");
  const name = (space < 0 ? info : info.slice(0, space)).toLowerCase();
  return known.has(name) ? { name, rest: space > 0 ? info.slice(space + 1) : "" } : null;
}

// "::name key=value,key=value::data", at the beginning of a line but for spaces.
export function parseNew(line, known) {
  const text = line.trimStart();
  if (!text.startsWith("::")) return null;
  const end = text.indexOf("::", 2);
  if (end < 0) return null;
  const command = named(text.slice(2, end), known);
  if (!command) return null;
  return {
    name: command.name,
    properties: properties(command.rest.trim(), ",", UNESCAPE_PROPERTY),
    data: unescape(text.slice(end + 2), UNESCAPE_DATA),
  };
}

// "##[name key=value;key=value]data", anywhere in a line.
export function parseOld(line, known) {
  const start = line.indexOf("##[");
  if (start < 0) return null;
  const end = line.indexOf("]", start);
  if (end < 0) return null;
  const command = named(line.slice(start + 3, end), known);
  if (!command) return null;
  return {
    name: command.name,
    properties: properties(command.rest, ";", UNESCAPE_OLD),
    data: unescape(line.slice(end + 1), UNESCAPE_OLD),
  };
}

// Reads one step's lines. `effects` takes what commands do: issue, output, env, path, state, mask, command.
export class Channel {
  constructor(effects, { unsecure = false, matchers = new Set() } = {}) {
    this.effects = effects;
    this.unsecure = unsecure;
    this.matchers = matchers;
    this.known = new Set(REGISTERED);
    this.stopWord = null;
    this.traceback = null;
  }

  // .NET ends a line at CR, LF and CRLF.
  text(all) {
    const lines = all.split(/\r\n|\r|\n/);
    if (lines.at(-1) === "") lines.pop();
    for (const line of lines) this.line(line);
  }

  line(line) {
    const command = parseNew(line, this.known) ?? parseOld(line, this.known);
    if (command && this.obey(command)) return;
    if (this.matchers.has("python")) this.match(line);
    this.effects.log(line);
  }

  obey(command) {
    if (this.stopWord !== null) {
      if (command.name !== this.stopWord) return false;
      this.known.delete(this.stopWord);
      this.stopWord = null;
      return true;
    }
    this.effects.command(command);
    if (command.name === "stop-commands") {
      const word = command.data.toLowerCase();
      if (word === "" || word === "pause-logging" || this.known.has(word)) {
        this.effects.issue("error", "This word cannot stop commands.", {});
        this.effects.fail();
        return true;
      }
      this.stopWord = word;
      this.known.add(word);
      return true;
    }
    this.act(command);
    return true;
  }

  act({ name, properties: given, data }) {
    switch (name) {
      case "error":
      case "warning":
      case "notice":
        this.effects.issue(name, data, given);
        break;
      case "set-output":
        this.effects.output(given.name, data);
        break;
      case "save-state":
        this.effects.state(given.name, data);
        break;
      case "set-env":
      case "add-path":
        if (!this.unsecure) {
          this.effects.issue("error", `The ${name} command is disabled.`, {});
          this.effects.fail();
        } else if (name === "set-env") this.effects.env(given.name, data);
        else this.effects.path(data);
        break;
      case "add-mask":
        this.effects.mask(data);
        break;
      default: // debug, echo, group, endgroup, matchers: nothing that a test looks at
    }
  }

  match(line) {
    const first = TRACEBACK[0].exec(line);
    if (first) {
      this.traceback = first;
      return;
    }
    const second = this.traceback && TRACEBACK[1].exec(line);
    if (second) this.effects.issue("error", second[2], { file: this.traceback[1], line: this.traceback[2] });
    this.traceback = null;
  }
}
